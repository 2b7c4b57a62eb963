// Package travel answers: how long, and how far, from one place to another?
//
// It holds positions and matrices of seconds and metres between places, and makes a
// matrix from positions by great circle, a detour factor and a speed. Matrices may be asymmetric.
package travel
