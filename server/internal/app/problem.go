package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"

	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// WriteProblem writes what a plan run of a business had to plan as a Problem file, with the address of the login that serves.
func WriteProblem(ctx context.Context, serveURL string, business firm.BusinessID, run string, to io.Writer, log *slog.Logger) error {
	return read(ctx, serveURL, business, log, func(tx *store.Tx) error { return planning.WriteProblem(tx, run, to) })
}

// WritePlan writes the plan that a plan run of a business made as a plan file, with the address of the login that serves.
func WritePlan(ctx context.Context, serveURL string, business firm.BusinessID, run string, to io.Writer, log *slog.Logger) error {
	return read(ctx, serveURL, business, log, func(tx *store.Tx) error { return planning.WritePlan(tx, run, to) })
}

// read opens the store for one look of the office.
func read(ctx context.Context, serveURL string, business firm.BusinessID, log *slog.Logger, look func(tx *store.Tx) error) (err error) {
	opened, err := store.Open(ctx, serveURL, &firm.Clock{}, log)
	if err != nil {
		return fmt.Errorf("open the store: %w", err)
	}
	defer func() { err = errors.Join(err, opened.Close()) }()
	return opened.Reading(ctx, firm.Caller{Business: business, Subject: "problem", Role: firm.Office}, look)
}
