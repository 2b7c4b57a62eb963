package app

import (
	"context"

	"vernation/server/internal/rpc"
)

// services are the handlers that the server offers.
func (a *App) services() []rpc.Service {
	return []rpc.Service{}
}

// workers run beside the calls until their context ends; an error of one ends the server.
func (a *App) workers() []func(context.Context) error {
	return nil
}
