// Package planning gathers what a business has to do into a Problem, has it solved and checked, keeps the plan,
// and makes one plan's visits real.
//
// Planning is three transactions: gather (read only, with the version of each case, site and technician), keep
// (the plan, immutable), publish (gather again and check against now outside any lock, then compare versions
// under the lock of the plan head and swap the visits that may move). A plan that breaks a rule by a
// decision of its own is never published.
//
// A visit that has begun by the firm's clock is a fact until its technician's day route is over, whether or not
// anything was heard of it: a plan made in working hours goes on from there. A booking is judged like a plan that
// holds everything that is published and the new visit.
package planning
