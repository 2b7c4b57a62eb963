// Package telemetry answers: how does the operator see what the server does?
//
// Measures are for Prometheus: calls and how long they take, plan runs that wait and are worked on, rounds searched,
// the queue, the pool of connections. Traces go to a collector when the environment names one, by the variables of
// OpenTelemetry. Neither ever carries a business, a person or anything that a call said.
package telemetry
