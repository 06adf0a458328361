//go:build linux

package load

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"math/big"
	mathrand "math/rand/v2"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/demo"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/store/database"
	"fettle/internal/store/datafolder"
	"fettle/internal/store/postgrestest"
	"fettle/internal/store/s3test"
	"fettle/internal/unit"
)

// size is how much there is of everything.
type size struct {
	shops, jobs int           // jobs of all shops
	worked      int           // of each shop, with a body, that people work in; the others are short ones
	span        time.Duration // people work
	thinks      time.Duration // between two things that a person does; the middle
	copied      bool          // most jobs are rows that are copied: they can be read, and the log knows nothing of them
	fine        bool          // the bodies have the meshes of the demonstration, else coarse ones
	servers     int
	streams     int // for each server
}

// ofEach is the people of a shop, by what they are.
var ofEach = [][]right.Role{{right.Technician}, {right.Technician}, {right.Planner}, {right.Reviewer}, {right.Administrator}}

// group is a group of shops with its servers.
type group struct {
	t       *testing.T
	size    size
	pg      *postgrestest.Server
	env     []string
	world   datafolder.World
	store   *datafolder.Store
	people  *account.Accounts
	servers []*server
	shops   []*shop
	all     []*person
	tally   *tally

	streams []*stream

	mu        sync.Mutex
	changes   []change
	newest    map[string]int64    // event of a job that was acknowledged
	writtenAt map[place]time.Time // when that was
	owner     map[string]string   // of jobs that go to and fro; empty: on its way
}

// shop is a shop with its jobs that are worked in.
type shop struct {
	id        string
	everybody bool // sees all its jobs
	admin     *person
	jobs      []string
	handed    []string // jobs that go to and fro between it and the next
}

// person is somebody of a shop. Whoever changes what they may holds the lock meanwhile.
type person struct {
	mu     sync.Mutex
	shop   *shop
	id     string
	signIn string
	secret string       // of a session or a token
	token  string       // the name of the token; empty: it is a session
	roles  []right.Role // that they have now, by what they show; none: it is good for nothing
	was    []right.Role // from the beginning
	proven time.Time
	seen   map[string]int64 // of their own finding of a job
	wrote  map[string]bool  // anything of a job but a review
	n      int              // of changes
	client *http.Client
}

// who is what the matrix is asked about, as the test knows it.
func (p *person) who() right.Who {
	w := right.Who{Person: p.id, Shop: p.shop.id, Roles: p.roles, Token: p.token}
	w.Fresh = p.token == "" && time.Since(p.proven) < account.FreshFor
	return w
}

// wavers says that nobody knows at the moment whether they proved who they are a short while ago: the time is just over.
func (p *person) wavers() bool {
	d := time.Since(p.proven) - account.FreshFor
	return p.token == "" && d > -time.Minute && d < time.Minute
}

const password = "quite a long sentence nobody else has said"

// newGroup is a group with people and jobs, and servers that do not run yet.
func newGroup(t *testing.T, of size) *group {
	t.Helper()
	g := &group{t: t, size: of, pg: postgrestest.Start(t), tally: newTally(), newest: map[string]int64{}, writtenAt: map[place]time.Time{}, owner: map[string]string{}}
	bucket := s3test.Double(t)
	var key [32]byte
	if _, err := rand.Read(key[:]); err != nil {
		t.Fatal(err)
	}
	g.env = []string{"FETTLE_DATABASE=" + g.pg.Database(t), "FETTLE_ACCOUNTS_KEY=" + hex.EncodeToString(key[:]),
		"FETTLE_S3_ENDPOINT=" + bucket.Endpoint, "FETTLE_S3_BUCKET=" + bucket.Bucket, "FETTLE_S3_REGION=" + s3test.Region, "FETTLE_S3_KEY_ID=" + bucket.KeyID, "FETTLE_S3_SECRET=" + bucket.Secret}
	lookup := func(name string) (string, bool) {
		for _, v := range g.env {
			if value, is := strings.CutPrefix(v, name+"="); is {
				return value, true
			}
		}
		return "", false
	}
	g.world = datafolder.World{Lookup: lookup, Now: time.Now, Program: "test"}
	var err error
	if g.store, err = datafolder.Open(t.Context(), t.TempDir(), true, g.world); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := g.store.Close(); err != nil {
			t.Error(err)
		}
	})
	// Hashes are made at no cost: what is measured is not that.
	g.people, err = account.New(account.Settings{Store: g.store.Database.Accounts(), Now: time.Now, Random: rand.Reader, Key: key[:], Weak: true, Cost: account.Cost{KiB: 8, Passes: 1, Lanes: 1}})
	if err == nil {
		err = g.people.Check(t.Context())
	}
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	if err := g.addPeople(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d shops with %d people made in %v", len(g.shops), len(g.all), time.Since(began).Round(time.Millisecond))
	began = time.Now()
	if err := g.addJobs(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d jobs written by the store in %v", of.jobs, time.Since(began).Round(time.Millisecond))
	for n := range of.servers {
		g.servers = append(g.servers, newServer(t, n, g.env))
	}
	return g
}

// addPeople makes the shops and their people by package account.
func (g *group) addPeople(ctx context.Context) error {
	first, err := g.people.FirstUse(ctx)
	if err != nil {
		return err
	}
	boss := account.NewPerson{Name: "The first", SignIn: "first@example.invalid"}
	in, err := g.people.ClaimFirst(ctx, first.Text, account.First{Shop: "s01", ShopName: "Shop 1", NewPerson: boss, Password: password}, account.From{})
	if err != nil {
		return err
	}
	who, err := g.people.Session(ctx, in.Session)
	if err != nil {
		return err
	}
	chief := right.Who{Person: who.Who.Person, Shop: "s01", Roles: []right.Role{right.Administrator}, Fresh: true}
	for n := range g.size.shops {
		s := &shop{id: fmt.Sprintf("s%02d", n+1), everybody: n%10 != 9}
		if n > 0 {
			if _, err := g.people.AddShop(ctx, chief, s.id, fmt.Sprint("Shop ", n+1)); err != nil {
				return err
			}
		}
		own := chief
		own.Shop = s.id
		if err := g.people.SetShop(ctx, own, account.Shop{ID: s.id, Name: fmt.Sprint("Shop ", n+1), Everybody: s.everybody}); err != nil {
			return err
		}
		for i, roles := range ofEach {
			if n%2 == 1 && roles[0] == right.Administrator {
				roles = []right.Role{right.Technician, right.Administrator}
			}
			p, err := g.addPerson(ctx, own, s, roles, i%2 == 0)
			if err != nil {
				return err
			}
			if roles[len(roles)-1] == right.Administrator {
				s.admin = p
			}
		}
		g.shops = append(g.shops, s)
	}
	return nil
}

func (g *group) addPerson(ctx context.Context, boss right.Who, in *shop, roles []right.Role, token bool) (*person, error) {
	p := &person{shop: in, was: roles, roles: roles, signIn: fmt.Sprintf("p%d@example.invalid", len(g.all)), seen: map[string]int64{}, wrote: map[string]bool{}}
	made, ticket, err := g.people.AddPerson(ctx, boss, account.NewPerson{Name: fmt.Sprint("Person ", len(g.all)), SignIn: p.signIn, Roles: roles})
	if err == nil {
		p.id = made.ID
		err = g.people.SetPassword(ctx, ticket.Text, password, account.From{})
	}
	if err == nil && token {
		err = g.giveToken(ctx, p)
	} else if err == nil {
		err = g.signIn(ctx, p)
	}
	// Each has an address of this machine of their own: a server takes only so much from one.
	n := len(g.all)
	from := &net.Dialer{Timeout: 5 * time.Second, LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 1, byte(n/200), byte(1+n%200))}}
	p.client = &http.Client{Timeout: 40 * time.Second, Transport: &http.Transport{DialContext: from.DialContext, MaxIdleConnsPerHost: 4}}
	g.all = append(g.all, p)
	return p, err
}

func (g *group) signIn(ctx context.Context, p *person) error {
	in, err := g.people.SignIn(ctx, account.Try{Name: p.signIn, Password: password, Shop: p.shop.id}, account.From{Address: "127.0.0.1"})
	p.secret, p.token, p.proven = in.Session, "", time.Now()
	return err
}

func (g *group) giveToken(ctx context.Context, p *person) error {
	t, secret, err := g.people.MakeToken(ctx, right.Who{Person: p.id, Shop: p.shop.id, Roles: p.was, Fresh: true}, account.NewToken{Name: "load", For: 24 * time.Hour})
	p.secret, p.token = secret.Text, t.ID
	return err
}

// template is the demonstration's job, kept, with what it stands on; of the whole the bodies are three that differ in a word.
func (g *group) template(ctx context.Context) (job.State, []string, error) {
	files := folders.Files(demo.Files())
	if !g.size.fine {
		files = folders.Coarse()
	}
	a := app.New(files, "test").WithBodies(&app.Bodies{})
	c, err := a.Open(ctx, demo.Job)
	if err == nil {
		_, err = a.KeepIn(ctx, c, g.store, "s01-template", "p-fill", "fill")
	}
	if err != nil {
		return job.State{}, nil, err
	}
	chain, err := g.store.Load(ctx, "s01-template", 0)
	if err != nil {
		return job.State{}, nil, err
	}
	kept, err := job.Read(chain)
	if err != nil {
		return job.State{}, nil, err
	}
	state := *kept.State()
	hash, _ := job.NamedHash(state.Body)
	of, err := g.store.Files(ctx, hash)
	bodies := []string{hash}
	for n := range 2 {
		if !g.size.fine {
			break // one has to be made ready by each server, and again after it was killed
		}
		if err != nil {
			return state, nil, err
		}
		of["body.yaml"] = append(of["body.yaml"], fmt.Sprintf("\n# Another one: %d\n", n)...)
		hash, err = g.store.Keep(ctx, of)
		bodies = append(bodies, hash)
	}
	return state, bodies, err
}

// addJobs writes jobs by the store's own Create, many at once, which it commits together.
func (g *group) addJobs(ctx context.Context) error {
	state, bodies, err := g.template(ctx)
	if err != nil {
		return err
	}
	on := unit.DateOf(time.Now())
	r := mathrand.New(mathrand.NewPCG(20, 1))
	queue := make(chan func() error)
	var faults [256]error
	var group sync.WaitGroup
	for i := range faults {
		group.Go(func() {
			for do := range queue {
				faults[i] = errors.Join(faults[i], do())
			}
		})
	}
	for n, s := range g.shops {
		each := g.size.jobs / g.size.shops
		if n < g.size.jobs%g.size.shops {
			each++
		}
		for i := range each {
			if g.size.copied && i >= g.size.worked+2+ofCopies {
				break
			}
			id, own := fmt.Sprintf("%s-%06d", s.id, i), state
			own.ID, own.Body = id, job.HashName(bodies[(n+i)%len(bodies)])
			switch {
			case i < g.size.worked:
				s.jobs = append(s.jobs, id)
			case i < g.size.worked+2:
				s.handed = append(s.handed, id)
				g.owner[id] = s.id
				own = short(own, r)
			default:
				own = short(own, r)
			}
			events := append(job.FromState(own), job.Event{Kind: job.JobHandedOver, Data: job.HandedOver{To: s.id, By: "P1", On: on, Reason: "begun here"}})
			queue <- func() error {
				_, err := g.store.Create(ctx, id, app.Change{Key: "fill", By: "p-fill", Events: events})
				return err
			}
		}
	}
	close(queue)
	group.Wait()
	if err := errors.Join(faults[:]...); err != nil || !g.size.copied {
		return err
	}
	return g.copyJobs(ctx)
}

// ofCopies is how many short jobs of a shop the others are copies of.
const ofCopies = 50

// copyJobs fills each shop with copies of its short jobs, under names of their own.
func (g *group) copyJobs(ctx context.Context) error {
	each, first := g.size.jobs/g.size.shops, g.size.worked+2
	for _, s := range g.shops {
		for from := first + ofCopies; from < each; from += 1000 {
			to := min(each, from+1000) - 1
			err := g.store.Write(ctx, func(tx *database.Tx) error {
				for _, t := range []struct{ table, key, columns string }{
					{"jobs", "id", "seq, hash, changed, vehicle, title, plate, waits, whom, shown, salt, sum, owner, act, since, judged"},
					{"events", "job", "seq, at, author, what, about, seen, payload, prev, hash, beside"},
					{"requests", "job", "key, first, events"}, {"terms", "job", "term"}, {"named", "job", "hash"},
				} {
					_, err := tx.Exec(fmt.Sprintf("insert into %[1]s (%[2]s, %[3]s) select $1 || lpad(n::text, 6, '0'), %[3]s from generate_series($2::int, $3::int) n join %[1]s on %[2]s = $1 || lpad((%[4]d + n %% %[5]d)::text, 6, '0')", t.table, t.key, t.columns, first, ofCopies), s.id+"-", from, to)
					if err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// short is a job with vehicle, impact and two findings, of which most jobs of a shop are made here.
func short(s job.State, r *mathrand.Rand) job.State {
	out := job.State{Format: s.Format, ID: s.ID, Invented: true, Body: s.Body, Shop: s.Shop, Opened: s.Opened, Start: s.Start, Author: s.Author, Vehicle: s.Vehicle, Impact: s.Impact}
	out.Vehicle.VIN = drawnVIN(r)
	parts := []string{"P-BUMPER", "P-GRILLE", "P-BEAM", "P-CAN-L", "P-CAN-R", "P-FENDER-L", "P-FENDER-R", "P-COWL"}
	for n := range 2 {
		out.Findings = append(out.Findings, dent(job.FindingID(fmt.Sprint("D", n+1)), parts[r.IntN(len(parts))], "", s.Opened))
	}
	return out
}

// drawnVIN is one of no vehicle, with the check digit that 49 CFR 565.15 (c) asks for.
func drawnVIN(r *mathrand.Rand) string {
	const signs, values = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ", "012345678912345678123457923456789"
	weights := []int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}
	out, sum := []byte("ZZZ"), 0
	for range 14 {
		out = append(out, signs[r.IntN(len(signs))])
	}
	for i, c := range out {
		sum += weights[i] * int(values[strings.IndexByte(signs, c)]-'0')
	}
	out[8] = "0123456789X"[sum%11]
	return string(out)
}

// unique is a text that nothing else has.
func unique() string {
	n, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 80))
	if err != nil {
		panic(err) // the machine gives no random bytes
	}
	return n.Text(36)
}
