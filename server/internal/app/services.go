package app

import (
	"context"
	"crypto/rand"
	"fmt"
	"os"

	"vernation/server/internal/convert"
	"vernation/server/internal/feed"
	"vernation/server/internal/planning"
	"vernation/server/internal/rpc"
	"vernation/server/internal/store"
)

// services are the handlers that the server offers.
func (a *App) services() []rpc.Service {
	return []rpc.Service{
		rpc.Clients(a.store),
		rpc.Sites(a.store),
		rpc.AccessSecrets(a.store),
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
		rpc.Incidents(a.store),
		rpc.ClientConsents(a.store),
		rpc.Cases(a.store),
		rpc.Plans(a.store),
		rpc.Visits(a.store),
		rpc.DayRoutes(a.store),
		rpc.Stamps(a.store),
		rpc.Reports(a.store),
		rpc.Records(a.store),
		rpc.Changes(a.store, a.ending),
		rpc.Webhooks(a.store, a.reach()),
		rpc.Keys(a.store),
	}
}

// workers run beside the calls until their context ends; an error of one ends the server.
func (a *App) workers() []func(context.Context) error {
	if !a.cfg.Planner {
		return []func(context.Context) error{a.deliver}
	}
	return []func(context.Context) error{a.deliver, a.plan}
}

// reach is what webhooks may reach.
func (a *App) reach() feed.Reach { return feed.Reach{Inside: a.cfg.WebhooksInside} }

// deliver sends changes to webhooks.
func (a *App) deliver(ctx context.Context) error {
	name, err := workerName()
	if err != nil {
		return err
	}
	return feed.Deliver(ctx, a.store, convert.DeliveryBody, feed.CourierOptions{Name: name, Reach: a.reach(), Log: a.cfg.Log})
}

// workerName is one that no other server has.
func workerName() (string, error) {
	host, err := os.Hostname()
	if err != nil {
		return "", fmt.Errorf("name the worker: %w", err)
	}
	return fmt.Sprintf("%s-%d-%s", host, os.Getpid(), rand.Text()), nil
}

// plan makes the plans that are asked for, under a name that no other server has.
func (a *App) plan(ctx context.Context) error {
	name, err := workerName()
	if err != nil {
		return err
	}
	return a.store.Work(ctx, planning.Worker(a.store, a.cfg.Roads), store.WorkOptions{Name: name})
}
