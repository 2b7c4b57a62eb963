package app

import (
	"context"
	"crypto/rand"
	"fmt"
	"os"

	"vernation/server/internal/planning"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
)

// services are the handlers that the server offers.
func (a *App) services() []rpc.Service {
	return []rpc.Service{
		rpc.Clients(a.store),
		rpc.Sites(a.store),
		rpc.Plants(a.store),
		rpc.SpeciesTolerances(a.store),
		rpc.ServiceRounds(a.store),
		rpc.PlantEvents(a.store),
		rpc.Products(a.store),
		rpc.Technicians(a.store),
		rpc.Absences(a.store),
		rpc.Holidays(a.store),
		rpc.Policies(a.store),
		rpc.Lots(a.store),
		rpc.Findings(a.store),
		rpc.Cases(a.store),
		rpc.Plans(a.store),
		rpc.DayRoutes(a.store),
		rpc.Reports(a.store),
		rpc.Records(a.store),
		rpc.Notices(a.store),
		rpc.Measures(a.store),
	}
}

// workers run beside the calls until their context ends; an error of one ends the server.
func (a *App) workers() []func(context.Context) error {
	if !a.cfg.Planner {
		return nil
	}
	return []func(context.Context) error{a.plan}
}

// plan makes the plans that are asked for, under a name that no other server has.
func (a *App) plan(ctx context.Context) error {
	host, err := os.Hostname()
	if err != nil {
		return fmt.Errorf("name the planner: %w", err)
	}
	name := fmt.Sprintf("%s-%d-%s", host, os.Getpid(), rand.Text())
	return a.store.Work(ctx, planning.Worker(a.store), store.WorkOptions{Name: name})
}
