package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"

	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/load"
	"vernation/server/internal/store"
)

// Sentence says what went wrong for the person at a command line: what was being done, then a fault's own sentence
// without its reason and its cause.
func Sentence(err error) string {
	var known *fault.Fault
	if !errors.As(err, &known) || known.Kind == fault.Internal {
		return err.Error()
	}
	return strings.TrimSuffix(err.Error(), known.Error()) + known.Message
}

// Load makes the business of a file, with the owner's address, and stores all that the file tells of it, with the
// address of the login that serves. name is said in errors, which name line and field. It returns the business.
func Load(ctx context.Context, ownerURL, serveURL, name string, text []byte, log *slog.Logger) (id firm.BusinessID, err error) {
	file, err := load.Read(name, text)
	if err != nil {
		return "", err
	}
	business, err := file.Firm()
	if err != nil {
		return "", err
	}
	if err := file.Check(); err != nil {
		return "", err
	}
	if err := store.CreateBusiness(ctx, ownerURL, business); err != nil {
		return "", fmt.Errorf("create business %s: %w", business.ID, err)
	}
	opened, err := store.Open(ctx, serveURL, &firm.Clock{}, log)
	if err != nil {
		return "", fmt.Errorf("open the store: %w", err)
	}
	defer func() { err = errors.Join(err, opened.Close()) }()
	caller := firm.Caller{Business: business.ID, Subject: "load", Role: firm.Office}
	return business.ID, opened.In(ctx, caller, file.Store)
}
