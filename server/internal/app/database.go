package app

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"vernation/server/internal/identity"
	"vernation/server/internal/pgtemp"
	"vernation/server/internal/store"
)

// Parts of a data folder.
const (
	databaseFolder = "database"
	keyFile        = "token-key.pem"
)

// KeyFileOf names the key file of a data folder.
func KeyFileOf(dataDir string) string { return filepath.Join(dataDir, keyFile) }

// makeDataFolder makes a data folder where there is none. The database may run as another user, who must be able
// to pass through but not to read.
func makeDataFolder(folder string) error {
	if err := os.MkdirAll(folder, 0o711); err != nil {
		return fmt.Errorf("data folder: %w", err)
	}
	return nil
}

// Private is a private database with an up-to-date schema.
type Private struct {
	server *pgtemp.Server
	// OwnerURL and ServeURL are the addresses of its two logins.
	OwnerURL, ServeURL string
}

// OpenPrivate starts a private database, kept in a data folder or thrown away without one.
func OpenPrivate(ctx context.Context, cfg Config) (*Private, error) {
	cfg, err := cfg.complete()
	if err != nil {
		return nil, err
	}
	options := pgtemp.Options{Log: cfg.Log}
	if cfg.DataDir != "" {
		folder, err := filepath.Abs(cfg.DataDir)
		if err != nil {
			return nil, fmt.Errorf("data folder: %w", err)
		}
		if err := makeDataFolder(folder); err != nil {
			return nil, err
		}
		options.Dir = filepath.Join(folder, databaseFolder)
	}
	server, err := pgtemp.Start(ctx, options)
	if err != nil {
		return nil, fmt.Errorf("start a private database: %w", err)
	}
	private := &Private{server: server, OwnerURL: server.OwnerURL(pgtemp.Database), ServeURL: server.ServeURL(pgtemp.Database)}
	if err := store.Migrate(ctx, private.OwnerURL); err != nil {
		return nil, errors.Join(fmt.Errorf("bring the schema of the private database up to date: %w", err), private.Close())
	}
	return private, nil
}

// Close ends the database; kept data stay.
func (p *Private) Close() error { return p.server.Stop() }

// openDatabase opens the store, on a private database where none is named.
func (a *App) openDatabase(ctx context.Context) error {
	serveURL := a.cfg.DatabaseURL
	a.ownerURL = a.cfg.OwnerURL
	switch {
	case serveURL == "":
		private, err := OpenPrivate(ctx, a.cfg)
		if err != nil {
			return err
		}
		a.closeLast(private.Close)
		a.runFolder = private.server.Folder()
		serveURL, a.ownerURL = private.ServeURL, private.OwnerURL
	case a.ownerURL != "":
		if err := store.Migrate(ctx, a.ownerURL); err != nil {
			return fmt.Errorf("bring the schema up to date: %w", err)
		}
	}
	a.serveURL = serveURL
	opened, err := store.Open(ctx, serveURL, a.cfg.Clock, a.cfg.Log)
	if err != nil {
		return fmt.Errorf("open the store: %w", err)
	}
	a.store = opened
	a.closeLast(opened.Close)
	return nil
}

// openKeys reads the keys of tokens. A private database makes its own, beside its data; one that is thrown away
// keeps the key in the folder that goes with it however it ends, so that `server token` can sign meanwhile.
func (a *App) openKeys() (err error) {
	a.keyFile = a.cfg.KeyFile
	switch {
	case a.keyFile != "":
	case a.cfg.DataDir != "":
		if err := makeDataFolder(a.cfg.DataDir); err != nil {
			return err
		}
		a.keyFile = KeyFileOf(a.cfg.DataDir)
	default:
		a.keyFile = KeyFileOf(a.runFolder)
	}
	if a.cfg.KeyFile == "" {
		if _, err := identity.LoadOrMakeKeys(a.keyFile); err != nil {
			return err
		}
	}
	expects := identity.Expects{Issuer: a.cfg.TokenIssuer, Audience: a.cfg.TokenAudience}
	a.keys, err = identity.OpenFile(a.keyFile, expects, a.cfg.LookEvery, a.cfg.Log)
	return err
}
