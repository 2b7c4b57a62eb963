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

// Read reads an instance: name; vehicles and capacity; then rows of number, x, y, demand, ready time, due date, service time.
// Lines of words are headings. It returns what is wrong with the line number.
func Read(r io.Reader) (*Instance, error) {
	in := &Instance{}
	scanner := bufio.NewScanner(r)
	fleet := false
	for line := 1; scanner.Scan(); line++ {
		text := strings.TrimSpace(scanner.Text())
		if text == "" {
			continue
		}
		if in.Name == "" {
			in.Name = text
			continue
		}
		numbers, ok := parse(text)
		if !ok {
			continue
		}
		switch {
		case !fleet && len(numbers) == 2:
			in.Vehicles, in.Capacity, fleet = int(numbers[0]), numbers[1], true
		case fleet && len(numbers) == 7:
			if int(numbers[0]) != len(in.Customers) {
				return nil, fmt.Errorf("line %d: customer %g follows customer %d: want them numbered from 0", line, numbers[0], len(in.Customers)-1)
			}
			in.Customers = append(in.Customers, Customer{numbers[1], numbers[2], numbers[3], numbers[4], numbers[5], numbers[6]})
		default:
			return nil, fmt.Errorf("line %d: %d numbers: want 2 (vehicles, capacity), then rows of 7", line, len(numbers))
		}
	}
	if err := scanner.Err(); err != nil {
		return nil, fmt.Errorf("read instance: %w", err)
	}
	if in.Vehicles < 1 || len(in.Customers) < 2 {
		return nil, errors.New("an instance has a name, vehicles and capacity, a depot and customers; some are missing")
	}
	return in, nil
}

// parse reads a line of numbers.
func parse(text string) (numbers []float64, ok bool) {
	for _, field := range strings.Fields(text) {
		number, err := strconv.ParseFloat(field, 64)
		if err != nil || math.IsNaN(number) || math.Abs(number) > 1e7 {
			return nil, false
		}
		numbers = append(numbers, number)
	}
	return numbers, len(numbers) > 0
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
	d := math.Hypot(in.Customers[a].X-in.Customers[b].X, in.Customers[a].Y-in.Customers[b].Y)
	if c == Dimacs {
		return math.Floor(10*d) / 10
	}
	return d
}

// Compile returns the instance in whole numbers: stop i is customer i+1, place 0 the depot, opening a route costs opens.
func (in *Instance) Compile(c Convention, opens int64) *route.Instance {
	scale := c.Scale()
	n := len(in.Customers)
	time, cost := make([]int32, n*n), make([]int32, n*n)
	for i := range n {
		for j := range n {
			d := in.Distance(c, i, j)
			cost[i*n+j] = int32(math.Round(d * scale))
			time[i*n+j] = int32(math.Ceil(d*scale - 1e-9))
		}
	}
	out := &route.Instance{Places: int32(n), Time: [][]int32{time}, Cost: [][]int32{cost}}
	whole := func(v float64) int32 { return int32(math.Round(v * scale)) }
	depot := in.Customers[0]
	for i, customer := range in.Customers[1:] {
		out.Stops = append(out.Stops, route.Stop{
			Place: int32(i + 1), Takes: whole(customer.Service), Load: int32(customer.Demand),
			Windows: []route.Window{{From: whole(customer.Ready), To: whole(customer.Due)}},
		})
	}
	for range min(in.Vehicles, n-1) {
		out.Vehicles = append(out.Vehicles, route.Vehicle{
			Start: whole(depot.Ready), End: whole(depot.Due), Capacity: int32(in.Capacity), Opens: opens,
		})
	}
	out.Ready()
	return out
}
