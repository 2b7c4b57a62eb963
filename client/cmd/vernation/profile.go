package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/goccy/go-yaml"

	"vernation/client"
)

// common are the flags of every command.
type common struct {
	Config     string        `help:"File of profiles. Unset, vernation/profiles.yaml in the folder where programs keep their settings." type:"path" env:"VERNATION_CONFIG" placeholder:"FILE"`
	Profile    string        `help:"Profile to take what is not given from. Unset, the one that is in use." env:"VERNATION_PROFILE" placeholder:"NAME"`
	Server     string        `help:"Address of the server: host:port or unix:PATH. Unset, the profile's, else 127.0.0.1:50051." env:"VERNATION_SERVER" placeholder:"ADDRESS"`
	Token      string        `help:"Token, or credential of an integration key. Others on this machine may see a flag: rather set the variable, or name a file." env:"VERNATION_TOKEN" placeholder:"TOKEN"`
	TokenFile  string        `help:"File that holds the token; read for each call." type:"path" env:"VERNATION_TOKEN_FILE" placeholder:"FILE"`
	Business   string        `help:"Id of the business. Unset, the one that the token names." env:"VERNATION_BUSINESS" placeholder:"BUSINESS"`
	Roots      string        `help:"PEM file of the certificates that vouch for the server. Unset, those that this machine trusts." type:"path" env:"VERNATION_ROOTS" placeholder:"FILE"`
	ServerName string        `help:"Name that the server's certificate must bear. Unset, the host of its address." env:"VERNATION_SERVER_NAME" placeholder:"NAME"`
	Plaintext  bool          `help:"Talk to another machine without TLS: anybody on the way can read the token." env:"VERNATION_PLAINTEXT"`
	Zone       string        `help:"Time zone of clock times that are given, and of those printed where no site's is known, such as America/New_York. Unset, the profile's, else UTC." env:"VERNATION_ZONE" placeholder:"ZONE"`
	Output     string        `short:"o" help:"How to print: ${enum}." enum:"table,json,csv" default:"table" env:"VERNATION_OUTPUT"`
	Colour     string        `help:"Whether to colour tables: ${enum}." enum:"auto,always,never" default:"auto"`
	Timeout    time.Duration `help:"Longest time of the command. Unset, 2 min for a call; waiting for a plan and watching have none." placeholder:"TIME"`
}

// profile is what a person keeps of them.
type profile struct {
	Server     string `yaml:"server,omitempty"`
	TokenFile  string `yaml:"token-file,omitempty"`
	Business   string `yaml:"business,omitempty"`
	Roots      string `yaml:"roots,omitempty"`
	ServerName string `yaml:"server-name,omitempty"`
	Plaintext  bool   `yaml:"plaintext,omitempty"`
	Zone       string `yaml:"zone,omitempty"`
}

// profiles is the file of them.
type profiles struct {
	InUse    string             `yaml:"in-use,omitempty"`
	Profiles map[string]profile `yaml:"profiles,omitempty"`
}

// settled is what a command goes by once flags, environment and profile are laid over each other.
type settled struct {
	reader
	server  string
	options []client.Option
	timeout time.Duration
	output  string
	colour  string
}

const usualServer = "127.0.0.1:50051"

// path is where the profiles stand.
func (c *common) path() (string, error) {
	if c.Config != "" {
		return c.Config, nil
	}
	folder, err := os.UserConfigDir()
	if err != nil {
		return "", usage{fmt.Errorf("nowhere to look for profiles: %w: name a file with --config", err)}
	}
	return filepath.Join(folder, "vernation", "profiles.yaml"), nil
}

// read reads the profiles; there are none where there is no file.
func (c *common) read() (all profiles, err error) {
	path, err := c.path()
	if err != nil {
		return all, err
	}
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return all, nil
	}
	if err == nil {
		err = yaml.UnmarshalWithOptions(text, &all, yaml.Strict())
	}
	if err != nil {
		return all, usage{fmt.Errorf("profiles in %s: %w", path, err)}
	}
	return all, nil
}

// chosen is the profile to go by; empty where none is in use.
func (c *common) chosen() (profile, error) {
	all, err := c.read()
	if err != nil {
		return profile{}, err
	}
	name := c.Profile
	if name == "" {
		name = all.InUse
	}
	if name == "" {
		return profile{}, nil
	}
	p, ok := all.Profiles[name]
	if !ok {
		return p, usage{fmt.Errorf("there is no profile %q: want one of %s, or make it with `vernation profile write %s`", name, strings.Join(names(all), ", "), name)}
	}
	return p, nil
}

// names are those of the profiles, in order.
func names(all profiles) []string {
	var list []string
	for name := range all.Profiles {
		list = append(list, name)
	}
	slices.Sort(list)
	return list
}

// settle lays flags and environment over the profile.
func (c *common) settle() (settled, error) {
	p, err := c.chosen()
	if err != nil {
		return settled{}, err
	}
	over := func(flag, kept string) string {
		if flag != "" {
			return flag
		}
		return kept
	}
	s := settled{server: over(over(c.Server, p.Server), usualServer), timeout: c.Timeout, output: c.Output, colour: c.Colour}
	if zone := over(c.Zone, p.Zone); zone != "" {
		if s.zone, err = time.LoadLocation(zone); err != nil {
			return settled{}, usage{fmt.Errorf("--zone: %q is no time zone: want one such as America/New_York", zone)}
		}
	}
	token, file := c.Token, over(c.TokenFile, p.TokenFile)
	if token != "" {
		s.options = append(s.options, client.WithToken(token))
	} else if file != "" {
		s.options = append(s.options, client.WithTokenFile(file))
		text, err := os.ReadFile(file)
		if err != nil {
			return settled{}, usage{fmt.Errorf("--token-file: %w", err)}
		}
		token = strings.TrimSpace(string(text))
	}
	s.who = readBearer(token)
	s.who.Business = over(over(c.Business, p.Business), s.who.Business)
	if roots, name := over(c.Roots, p.Roots), over(c.ServerName, p.ServerName); roots != "" {
		trusted, err := client.Roots(roots, name)
		if err != nil {
			return settled{}, usage{fmt.Errorf("--roots: %w", err)}
		}
		s.options = append(s.options, client.WithTLS(trusted))
	} else if name != "" {
		return settled{}, usage{errors.New("--server-name goes with --roots: name the certificates that vouch for it")}
	}
	if c.Plaintext || p.Plaintext {
		s.options = append(s.options, client.WithPlaintext())
	}
	return s, nil
}

// bounded ends a command that takes too long, where that was asked for.
func (s settled) bounded(ctx context.Context) (context.Context, context.CancelFunc) {
	if s.timeout > 0 {
		return context.WithTimeout(ctx, s.timeout)
	}
	return context.WithCancel(ctx)
}

// dial connects to the server.
func (s settled) dial(ctx context.Context) (*client.Client, error) {
	return client.Dial(ctx, s.server, s.options...)
}

// profileCommand keeps profiles.
type profileCommand struct {
	List   profileList   `cmd:"" help:"List the profiles; the one in use has a mark."`
	Write  profileWrite  `cmd:"" help:"Keep the server, token file, business, roots and zone that are given beside it under a name, and use it."`
	Use    profileUse    `cmd:"" help:"Use a profile from now on."`
	Remove profileRemove `cmd:"" help:"Forget a profile."`
}

type profileList struct{}

// Run prints them.
func (profileList) Run(s *surroundings) error {
	all, err := s.common.read()
	if err != nil {
		return err
	}
	grid := table{titles: []string{"", "PROFILE", "SERVER", "TOKEN FILE", "BUSINESS", "ZONE"}}
	for _, name := range names(all) {
		p, mark := all.Profiles[name], ""
		if name == all.InUse {
			mark = "*"
		}
		grid.add(mark, name, p.Server, p.TokenFile, p.Business, p.Zone)
	}
	return grid.write(s.out, false)
}

type profileWrite struct {
	Name string `arg:"" help:"Name of the profile."`
}

// Run keeps it.
func (w profileWrite) Run(s *surroundings) error {
	if s.common.Token != "" {
		return usage{errors.New("--token: a profile keeps no token, which others could read: write it into a file of your own and name that with --token-file")}
	}
	c := s.common
	return c.change(func(all *profiles) error {
		if all.Profiles == nil {
			all.Profiles = map[string]profile{}
		}
		all.Profiles[w.Name] = profile{
			Server: c.Server, TokenFile: c.TokenFile, Business: c.Business, Roots: c.Roots, ServerName: c.ServerName, Plaintext: c.Plaintext, Zone: c.Zone,
		}
		all.InUse = w.Name
		return nil
	})
}

type profileUse struct {
	Name string `arg:"" help:"Name of the profile."`
}

// Run notes it.
func (u profileUse) Run(s *surroundings) error {
	return s.common.change(func(all *profiles) error {
		if _, ok := all.Profiles[u.Name]; !ok {
			return usage{fmt.Errorf("there is no profile %q: want one of %s", u.Name, strings.Join(names(*all), ", "))}
		}
		all.InUse = u.Name
		return nil
	})
}

type profileRemove struct {
	Name string `arg:"" help:"Name of the profile."`
}

// Run forgets it.
func (r profileRemove) Run(s *surroundings) error {
	return s.common.change(func(all *profiles) error {
		if _, ok := all.Profiles[r.Name]; !ok {
			return usage{fmt.Errorf("there is no profile %q: want one of %s", r.Name, strings.Join(names(*all), ", "))}
		}
		delete(all.Profiles, r.Name)
		if all.InUse == r.Name {
			all.InUse = ""
		}
		return nil
	})
}

// change writes the profiles anew.
func (c *common) change(do func(*profiles) error) error {
	all, err := c.read()
	if err != nil {
		return err
	}
	if err := do(&all); err != nil {
		return err
	}
	text, err := yaml.Marshal(all)
	if err != nil {
		return err
	}
	path, err := c.path()
	if err != nil {
		return err
	}
	return writeFile(path, text)
}

// writeFile puts a file that its owner alone may read in the place of the one before, wholly or not at all.
func writeFile(path string, text []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	fresh := path + ".new"
	if err := os.WriteFile(fresh, text, 0o600); err != nil {
		return err
	}
	return os.Rename(fresh, path)
}
