// Package route answers: may this stop go there, and what would it add? It answers in constant time.
//
// It knows stops with windows, loads and seconds of work, vehicles with a beginning, an end and a capacity, and a travel
// matrix over places. Every stop of a route carries the earliest time at which it can be left and the latest at which it may
// be begun, so that a place in a route is judged by three additions and two comparisons (Savelsbergh 1992, forward time slack).
// With windows alone this is exact. Rules that no pair of numbers can carry (mixes, breaks, keep-outs across technicians)
// belong to the judge of a whole day route, package tour; for it the answers here are what must hold at least.
package route
