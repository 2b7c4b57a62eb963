package main

import (
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"vernation/scheduler/civil"
	"vernation/server/internal/app"
	"vernation/server/internal/firm"
	"vernation/server/internal/identity"
)

// database names the database that a command prepares: by its owner's address, or by the folder of a private one.
type database struct {
	OwnerURL string `name:"owner-url" help:"Address of the schema's owner." env:"VERNATION_OWNER_URL" placeholder:"URL" xor:"database"`
	Data     string `help:"Folder of a private database that no server runs on just now." type:"path" env:"VERNATION_DATA" placeholder:"DIR" xor:"database"`
}

// with does something with the owner's address of the database.
func (d database) with(s *surroundings, do func(ownerURL string) error) (err error) {
	switch {
	case d.OwnerURL != "":
		return do(d.OwnerURL)
	case d.Data == "":
		return errors.New("no database is named: want --owner-url (or VERNATION_OWNER_URL), or --data of a private one")
	}
	private, err := app.OpenPrivate(s.ctx, app.Config{DataDir: d.Data, Log: s.log})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, private.Close()) }()
	return do(private.OwnerURL)
}

// migrateCommand brings a schema up to date.
type migrateCommand struct{ database }

// Run migrates up.
func (c *migrateCommand) Run(s *surroundings) error {
	return c.with(s, func(ownerURL string) error { return app.Migrate(s.ctx, ownerURL) })
}

// businessCommand groups what is done to businesses as wholes.
type businessCommand struct {
	Create createBusinessCommand `cmd:"" help:"Make a business with the default policy, rates and rules."`
}

// createBusinessCommand makes a business.
type createBusinessCommand struct {
	database
	ID            string     `name:"id" help:"Its id in every resource name: lower-case letters, digits and hyphens." required:"" placeholder:"ID"`
	Name          string     `help:"Its name for people." required:"" placeholder:"NAME"`
	Zone          civil.Zone `help:"Its time zone by the IANA database, such as America/New_York: plan days and shifts are in it." required:"" placeholder:"ZONE"`
	Currency      string     `help:"Currency of all its money by ISO 4217, such as USD." required:"" placeholder:"CODE"`
	DetourPercent int        `help:"Road over straight line, in percent." required:"" placeholder:"PERCENT"`
	SpeedKMH      int        `name:"speed-kmh" help:"Usual speed on the way between sites, in km/h." required:"" placeholder:"KMH"`
	PoisonLine    string     `help:"Telephone number of the poison information service to print with cautions; none is shipped." placeholder:"NUMBER"`
	EmergencyLine string     `help:"Telephone number of the emergency service to print with cautions; none is shipped." placeholder:"NUMBER"`
}

// Run makes the business and prints its resource name.
func (c *createBusinessCommand) Run(s *surroundings) error {
	err := c.with(s, func(ownerURL string) error {
		return app.CreateBusiness(s.ctx, ownerURL, firm.Business{
			ID: firm.BusinessID(c.ID), Name: c.Name, Zone: c.Zone, Currency: c.Currency,
			DetourPercent: c.DetourPercent, SpeedKMH: c.SpeedKMH, PoisonLine: c.PoisonLine, EmergencyLine: c.EmergencyLine,
		})
	})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "businesses/%s\n", c.ID)
	return err
}

// keyCommand makes a key file.
type keyCommand struct {
	File string `arg:"" help:"New file to write the private key into; an existing one is never overwritten. To change keys, put the new block in front of the old ones in one file: the first signs, all are trusted." type:"path"`
}

// Run makes the key and prints its id.
func (c *keyCommand) Run(s *surroundings) error {
	keys, err := identity.GenerateKeys()
	if err != nil {
		return err
	}
	if err := keys.WriteNew(c.File); err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.out, keys.ID())
	return err
}

// tokenCommand issues a token.
type tokenCommand struct {
	KeyFile               string        `help:"PEM file of the key to sign with." type:"path" env:"VERNATION_KEY_FILE" placeholder:"FILE"`
	Data                  string        `help:"Folder of a private database, whose own key signs when no key file is named." type:"path" env:"VERNATION_DATA" placeholder:"DIR"`
	Business              string        `help:"The business that the token is for." required:"" placeholder:"ID"`
	Role                  string        `help:"What the caller may do: ${enum}." required:"" enum:"office,technician,integration" placeholder:"ROLE"`
	Subject               string        `help:"Stable name of the caller, such as a personnel number." required:"" placeholder:"SUBJECT"`
	Technician            string        `help:"The technician whose day routes a technician's token is for." placeholder:"ID"`
	ResponsibleApplicator bool          `help:"The caller is a licence holder who approves the applications of courses."`
	Life                  time.Duration `help:"How long the token counts." default:"12h"`
	TokenIssuer           string        `help:"Issuer that the server wants tokens to name." default:"vernation" env:"VERNATION_TOKEN_ISSUER" placeholder:"NAME"`
	TokenAudience         string        `help:"Audience that the server wants tokens to name." default:"vernation" env:"VERNATION_TOKEN_AUDIENCE" placeholder:"NAME"`
}

// Run prints the token.
func (c *tokenCommand) Run(s *surroundings) error {
	path := c.KeyFile
	switch {
	case path != "":
	case c.Data != "":
		path = app.KeyFileOf(c.Data)
	default:
		return errors.New("no key is named: want --key-file (or VERNATION_KEY_FILE), or --data of a private database")
	}
	if err := app.CheckID(c.Business); err != nil {
		return fmt.Errorf("--business: %w", err)
	}
	keys, err := identity.LoadKeys(path)
	if err != nil {
		return err
	}
	keys = keys.Expecting(identity.Expects{Issuer: c.TokenIssuer, Audience: c.TokenAudience})
	caller := firm.Caller{Business: firm.BusinessID(c.Business), Subject: c.Subject, Role: firm.Role(c.Role), ResponsibleApplicator: c.ResponsibleApplicator}
	setID(&caller.Technician, c.Technician)
	token, err := keys.Issue(caller, c.Life)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.out, token)
	return err
}

// setID sets an id of a type that the command line has no other business with.
func setID[ID ~string](id *ID, text string) { *id = ID(text) }

// versionCommand says what the binary is.
type versionCommand struct{}

// Run prints module, version and Go release.
func (*versionCommand) Run(s *surroundings) error {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return errors.New("this binary was built without its build information")
	}
	_, err := fmt.Fprintln(s.out, info.Main.Path, info.Main.Version, info.GoVersion)
	return err
}
