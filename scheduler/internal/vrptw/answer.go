package vrptw

import (
	"fmt"
	"io"
)

// Answer is a set of routes of customers, each in order, the depot left out at both ends; Cost is their length.
type Answer struct {
	Routes [][]int
	Cost   float64
}

// Judge returns the length of routes by a convention, or what is wrong with them: a customer missing, served twice or late, a route
// over capacity or back too late. It reads the instance alone and shares nothing with what made the routes.
func (in *Instance) Judge(c Convention, routes [][]int) (float64, error) {
	served := make([]bool, len(in.Customers))
	total := 0.0
	for r, route := range routes {
		length, err := in.judge(c, route, served)
		if err != nil {
			return 0, fmt.Errorf("route %d: %w", r+1, err)
		}
		total += length
	}
	if len(routes) > in.Vehicles {
		return 0, fmt.Errorf("%d routes: there are %d vehicles", len(routes), in.Vehicles)
	}
	for customer := 1; customer < len(served); customer++ {
		if !served[customer] {
			return 0, fmt.Errorf("customer %d is not served", customer)
		}
	}
	return total, nil
}

// slack, in units of the convention or of time, is what rounding in double precision may hide.
const slack = 1e-9

// judge returns the length of one route, and marks whom it serves.
func (in *Instance) judge(c Convention, route []int, served []bool) (length float64, err error) {
	depot := in.Customers[0]
	time, load, at := depot.Ready, 0.0, 0
	for _, customer := range route {
		if customer < 1 || customer >= len(in.Customers) {
			return 0, fmt.Errorf("customer %d is unknown: want 1 to %d", customer, len(in.Customers)-1)
		}
		if served[customer] {
			return 0, fmt.Errorf("customer %d is served already", customer)
		}
		served[customer] = true
		d := in.Distance(c, at, customer)
		length += d
		time = max(time+d, in.Customers[customer].Ready)
		if time > in.Customers[customer].Due+slack {
			return 0, fmt.Errorf("customer %d is begun at %.4f, due is %.4f", customer, time, in.Customers[customer].Due)
		}
		time += in.Customers[customer].Service
		load += in.Customers[customer].Demand
		at = customer
	}
	d := in.Distance(c, at, 0)
	if time+d > depot.Due+slack {
		return 0, fmt.Errorf("back at %.4f, due is %.4f", time+d, depot.Due)
	}
	if load > in.Capacity {
		return 0, fmt.Errorf("a load of %g, the capacity is %g", load, in.Capacity)
	}
	return length + d, nil
}

// Write writes an answer as public solution files are: one route a line, then its cost.
func (a *Answer) Write(w io.Writer, c Convention) error {
	for r, route := range a.Routes {
		if _, err := fmt.Fprintf(w, "Route #%d:", r+1); err != nil {
			return err
		}
		for _, customer := range route {
			if _, err := fmt.Fprintf(w, " %d", customer); err != nil {
				return err
			}
		}
		if _, err := fmt.Fprintln(w); err != nil {
			return err
		}
	}
	decimals := 1
	if c == Double {
		decimals = 2
	}
	_, err := fmt.Fprintf(w, "Cost %.*f\n", decimals, a.Cost)
	return err
}
