package app

import (
	"context"
	"errors"
	"fmt"
	"regexp"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// The forms of an id, as the contract states it, and of a currency code (ISO 4217).
var (
	idForm       = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,62}$`)
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
)

// CheckID says what is wrong with the id of a business, or nil.
func CheckID(id string) error {
	if !idForm.MatchString(id) {
		return fmt.Errorf("id %q: want 1 to 63 lower-case letters, digits and hyphens, beginning with a letter or digit", id)
	}
	return nil
}

// CreateBusiness makes a business with the owner's address; no call over the network can. Its policy, rates and
// rules are the catalogue's defaults. The error lists all that is wrong with it, or is an Exists fault.
func CreateBusiness(ctx context.Context, ownerURL string, b firm.Business) error {
	var wrong []error
	if err := CheckID(string(b.ID)); err != nil {
		wrong = append(wrong, err)
	}
	if b.Name == "" {
		wrong = append(wrong, errors.New("name: want the name that its people know it by"))
	}
	if !currencyForm.MatchString(b.Currency) {
		wrong = append(wrong, fmt.Errorf("currency %q: want a code of ISO 4217 such as USD", b.Currency))
	}
	if err := (travel.GreatCircle{DetourPercent: b.DetourPercent, SpeedKMH: b.SpeedKMH}).Validate(); err != nil {
		wrong = append(wrong, err)
	}
	if len(wrong) > 0 {
		return fmt.Errorf("create business: %w", errors.Join(wrong...))
	}
	if err := store.CreateBusiness(ctx, ownerURL, b.WithDefaults(catalogue.Shipped())); err != nil {
		return fmt.Errorf("create business %s: %w", b.ID, err)
	}
	return nil
}

// Migrate brings the schema at the owner's address up to date. Several servers may do so at once.
func Migrate(ctx context.Context, ownerURL string) error {
	if err := store.Migrate(ctx, ownerURL); err != nil {
		return fmt.Errorf("bring the schema up to date: %w", err)
	}
	return nil
}
