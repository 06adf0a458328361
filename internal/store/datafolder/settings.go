package datafolder

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/right"
	"fettle/internal/store/blobs"
)

// Settings is settings.yaml of a data folder. No secret stands in it: those come from the environment.
type Settings struct {
	Format   string   `doc:"format,required" help:"the line 'fettle-settings 1'" oneof:"fettle-settings 1"`
	Database string   `doc:"database" help:"postgres:// address; without one, the SQLite file of the folder"`
	Bucket   Bucket   `doc:"bucket" help:"an S3-compatible store for files; without one, the folder blobs"`
	Serve    Serve    `doc:"serve" help:"how the folder is served, where command line and environment do not say otherwise"`
	Provider Provider `doc:"provider" help:"where people of the group sign in for all of its programs"`
	Results  int      `doc:"results" help:"days for which what work in the background has made is kept after it was over; 90 without"`
	Jobs     int      `doc:"jobs" help:"days for which a job is kept after its vehicle was handed back; without it for ever"`
}

// Provider is a provider of OpenID Connect. Its secret comes from the environment.
type Provider struct {
	Issuer      string         `doc:"issuer" help:"https address, as the provider writes it"`
	Client      string         `doc:"client" help:"how the provider knows this program"`
	Back        string         `doc:"back" help:"address to which it sends people back, where this server is reached by another than its own: https://HOST/sign-in/oidc/back"`
	SignedOut   string         `doc:"signed_out" help:"address to which it sends people who have signed out there; it has to know it"`
	Subject     string         `doc:"subject" help:"claim that says who somebody is; sub without"`
	DomainClaim string         `doc:"domain_claim" help:"claim that says of which domain somebody is"`
	Domain      string         `doc:"domain" help:"what that claim has to be"`
	Scopes      []string       `doc:"scopes" help:"what is asked for besides openid"`
	Groups      string         `doc:"groups" help:"claim that says of which groups somebody is"`
	Roles       []ProviderRole `doc:"roles" help:"which group gives which role in which shop; without it nobody's roles come from the provider"`
	Private     bool           `doc:"private" help:"it may have an address in a network of one's own"`
	Authority   string         `doc:"authority" help:"file of the authority that vouches for its certificate, as PEM; without it those that the machine trusts"`
}

// ProviderRole is a role that a group of the provider gives.
type ProviderRole struct {
	Group string     `doc:"group,required" help:"as the provider names it"`
	Shop  string     `doc:"shop,required" help:"short name of the shop"`
	Role  right.Role `doc:"role,required" help:"technician, planner or reviewer"`
}

// Serve is how the folder is served.
type Serve struct {
	Listen      string   `doc:"listen" help:"host:port"`
	Local       string   `doc:"local" help:"host:port of this machine alone, beside lan"`
	Lan         []string `doc:"lan" help:"names and addresses in a network, vouched for by an authority of its own"`
	Certificate string   `doc:"certificate" help:"file, as PEM"`
	Key         string   `doc:"key" help:"file, as PEM"`
	Hosts       []string `doc:"hosts" help:"other names that it answers to"`
	Proxies     []string `doc:"proxies" help:"addresses and networks of proxies whose word is believed"`
	Metrics     string   `doc:"metrics" help:"host:port of this machine alone, for figures"`
	Workers     int      `doc:"workers" help:"pieces of work in the background at once; 1 without; less than 0: none"`
}

// resultDays is for how many days what work has made is kept. Our choice: whoever wants it later asks for it once more.
const (
	resultDays = 90
	mostDays   = 36500
	leastJobs  = 365 // a job is the proof of a repair: whoever writes fewer days has meant years
)

// results is how long what work has made is kept.
func (s Settings) results() time.Duration {
	days := s.Results
	if days == 0 {
		days = resultDays
	}
	return time.Duration(days) * 24 * time.Hour
}

// Bucket is where files are kept in an S3-compatible store.
type Bucket struct {
	Endpoint string `doc:"endpoint" help:"https://host or https://host:port"`
	Name     string `doc:"name"`
	Region   string `doc:"region"`
	Prefix   string `doc:"prefix" help:"what all names begin with, as fettle/"`
}

// databaseVar is the address of the database in the environment: it has a password, so it may be in a file.
const databaseVar = "FETTLE_DATABASE"

// readSettings is the settings of a folder, with what the environment says over them.
func readSettings(dir string, lookup func(string) (string, bool)) (Settings, error) {
	var s Settings
	name := filepath.Join(dir, settingsFile)
	data, err := os.ReadFile(name)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return s, &diag.Error{Kind: diag.Unavailable, Op: "settings", Subject: name, Msg: "cannot be read", Hint: "check that this program may read it", Err: err}
	}
	if err == nil {
		_, problems := doc.Decode(name, data, &s)
		if err := problems.OrNil(); err != nil {
			return s, err
		}
	}
	if s.Results < 0 || s.Results > mostDays {
		return s, &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "results", Msg: "is no number of days from 1 to 36500", Hint: "write for example results: 90"}
	}
	if s.Jobs != 0 && (s.Jobs < leastJobs || s.Jobs > mostDays) {
		return s, &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "jobs", Msg: "is no number of days from 365 to 36500", Hint: "write for example jobs: 3650 for ten years, or leave it out to keep them for ever"}
	}
	address, _, err := blobs.Given(databaseVar, lookup, os.ReadFile)
	if address != "" {
		s.Database = address
	}
	if err == nil && s.Database != "" && !strings.HasPrefix(s.Database, "postgres://") && !strings.HasPrefix(s.Database, "postgresql://") {
		err = &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "database", Msg: "is no address of a PostgreSQL database", Hint: "write postgres://user@host/database, or leave it out for the SQLite file of the folder"}
	}
	return s, err
}

// s3 is where files are in a bucket; false where they are in the folder.
func (s Settings) s3(lookup func(string) (string, bool)) (blobs.S3Settings, bool, error) {
	set, err := blobs.S3Settings{Endpoint: s.Bucket.Endpoint, Bucket: s.Bucket.Name, Region: s.Bucket.Region, Prefix: s.Bucket.Prefix}.With(lookup, os.ReadFile)
	return set, set.Bucket != "" || set.Endpoint != "", err
}
