// Package vrptw reads published instances of vehicle routing with time windows, in the layout of Solomon (1987), and
// writes answers in the layout of the public .sol files.
package vrptw

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"vernation/scheduler/internal/route"
)

// Customer is one row of an instance; row 0 is the depot.
type Customer struct {
	X, Y, Demand, Ready, Due, Service float64
}

// Instance is a published instance.
type Instance struct {
	Name      string
	Vehicles  int
	Capacity  float64
	Customers []Customer // the depot first
}

// What an instance may hold, so that times in ten-thousandths and their sums stay whole numbers of 32 bits.
const (
	maxCustomers  = 2000
	maxCoordinate = 20_000
	maxNumber     = 50_000
)

// Read reads an instance: name; vehicles and capacity; then rows of number, x, y, demand, ready time, due date, service time,
// numbered from 0, the depot. Lines before the rows that do not begin with a number are headings. An error names the line, and what
// would be right.
func Read(r io.Reader) (*Instance, error) {
	in := &Instance{}
	scanner := bufio.NewScanner(r)
	for line := 1; scanner.Scan(); line++ {
		text := strings.TrimSpace(scanner.Text())
		switch {
		case text == "":
		case in.Name == "":
			in.Name = text
		default:
			if err := in.read(text); err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
		}
	}
	if err := scanner.Err(); err != nil {
		return nil, fmt.Errorf("read instance: %w", err)
	}
	if len(in.Customers) < 2 {
		return nil, errors.New("an instance has a name, vehicles and capacity, a depot and customers: some are missing")
	}
	return in, nil
}

// read reads one line after the name.
func (in *Instance) read(text string) error {
	fields := strings.Fields(text)
	if _, err := strconv.ParseFloat(fields[0], 64); err != nil && len(in.Customers) == 0 {
		return nil // a heading
	}
	numbers := make([]float64, len(fields))
	for i, field := range fields {
		number, err := strconv.ParseFloat(field, 64)
		if err != nil || !(math.Abs(number) <= maxNumber) {
			return fmt.Errorf("%q: want a number of at most %d", field, maxNumber)
		}
		numbers[i] = number
	}
	if in.Vehicles == 0 {
		return in.readFleet(numbers)
	}
	return in.readCustomer(numbers)
}

func (in *Instance) readFleet(numbers []float64) error {
	if len(numbers) != 2 || numbers[0] < 1 || numbers[1] < 0 || !whole(numbers...) {
		return fmt.Errorf("%v: want vehicles (1 or more) and capacity, as whole numbers, before the customers", numbers)
	}
	in.Vehicles, in.Capacity = int(numbers[0]), numbers[1]
	return nil
}

func (in *Instance) readCustomer(numbers []float64) error {
	if len(numbers) != 7 {
		return fmt.Errorf("%d numbers: want 7 of a customer: number, x, y, demand, ready time, due date, service time", len(numbers))
	}
	c := Customer{X: numbers[1], Y: numbers[2], Demand: numbers[3], Ready: numbers[4], Due: numbers[5], Service: numbers[6]}
	switch next := len(in.Customers); {
	case numbers[0] != float64(next) || next > maxCustomers:
		return fmt.Errorf("customer %g: want %d next, and at most %d", numbers[0], next, maxCustomers)
	case max(math.Abs(c.X), math.Abs(c.Y)) > maxCoordinate:
		return fmt.Errorf("customer %d lies at (%g, %g): want coordinates of at most %d", next, c.X, c.Y, maxCoordinate)
	case c.Demand < 0 || !whole(c.Demand):
		return fmt.Errorf("customer %d has a demand of %g: want a whole number, not below 0", next, c.Demand)
	case c.Ready < 0 || c.Due < c.Ready || c.Service < 0:
		return fmt.Errorf("customer %d is ready at %g, due at %g and takes %g: want 0 <= ready <= due, service not below 0", next, c.Ready, c.Due, c.Service)
	}
	in.Customers = append(in.Customers, c)
	return nil
}

// whole says whether numbers are whole.
func whole(numbers ...float64) bool {
	for _, number := range numbers {
		if number != math.Trunc(number) {
			return false
		}
	}
	return true
}

// Convention says how distances are read.
type Convention string

// The conventions.
const (
	// Dimacs cuts each arc to one decimal, as distance and as travel time.
	Dimacs Convention = "dimacs"
	// Double keeps double precision: lengths are counted in ten-thousandths, times rounded up, so that no answer is late.
	Double Convention = "double"
)

// Scale is the number of units in 1.
func (c Convention) Scale() float64 {
	if c == Double {
		return 10000
	}
	return 10
}

// Distance is the length of an arc by a convention.
func (in *Instance) Distance(c Convention, a, b int) float64 {
	x, y := in.Customers[a].X-in.Customers[b].X, in.Customers[a].Y-in.Customers[b].Y
	d := math.Sqrt(x*x + y*y) // unlike math.Hypot exact where the length is whole, so that cutting does not lose a tenth
	if c == Dimacs {
		return math.Floor(10*d) / 10
	}
	return d
}

// Compile returns the instance in whole numbers of 1/Scale: stop i is customer i+1, place 0 the depot, opening a route costs opens.
// Windows are cut and times rounded up, so that what holds in whole numbers holds in the convention.
func (in *Instance) Compile(c Convention, opens int64) *route.Instance {
	up := func(v float64) int32 { return int32(math.Ceil(v*c.Scale() - slack)) }
	down := func(v float64) int32 { return int32(math.Floor(v*c.Scale() + slack)) }
	n := len(in.Customers)
	time, cost := make([]int32, n*n), make([]int32, n*n)
	for i := range n {
		for j := range n {
			d := in.Distance(c, i, j)
			time[i*n+j], cost[i*n+j] = up(d), int32(math.Round(d*c.Scale()))
		}
	}
	out := &route.Instance{Places: int32(n), Time: [][]int32{time}, Cost: [][]int32{cost}}
	depot := in.Customers[0]
	for i, customer := range in.Customers[1:] {
		out.Stops = append(out.Stops, route.Stop{
			Place: int32(i + 1), Takes: up(customer.Service), Load: int32(customer.Demand),
			Windows: []route.Window{{From: up(customer.Ready), To: down(customer.Due)}},
		})
	}
	for range min(in.Vehicles, n-1) {
		out.Vehicles = append(out.Vehicles, route.Vehicle{
			Start: up(depot.Ready), End: down(depot.Due), Capacity: int32(in.Capacity), Opens: opens,
		})
	}
	out.Ready()
	return out
}
