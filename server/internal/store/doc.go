// Package store answers: what does a business have written down, and how does it come to stand there?
//
// It is the only place that knows SQL and the queue. Store.In and Store.Reading are its only doors: each opens
// one transaction for one caller, sets the business for row security, fixes the firm's present instant, and
// commits or leaves no trace. What goes in and out are the values of packages firm and scheduler; failures are
// *fault.Fault. It decides nothing: rules are checked by those who call it, and the database's own constraints
// stand behind them.
//
// Invariants: every statement names its business; every list has an order; nothing in SQL reads a clock.
package store
