package account

import (
	"context"
	"time"
)

// Kind says what a record is about.
type Kind string

// Kinds of record. What each holds is in Data, as JSON.
const (
	OfShop      Kind = "shop"
	OfPerson    Kind = "person"    // Key: the name they sign in with
	OfMember    Kind = "member"    // what a person is in a shop
	OfSession   Kind = "session"   // who is signed in; Key: SHA-256 of what they show
	OfDevice    Kind = "device"    // on which a person has signed in before; Key likewise
	OfToken     Kind = "token"     // of a program; Key likewise
	OfLink      Kind = "link"      // for a reader from outside; Key likewise
	OfTicket    Kind = "ticket"    // good for one thing once: first use, a new password; Key likewise
	OfPasskey   Kind = "passkey"   // Key: its identity
	OfIdentity  Kind = "identity"  // who a person is to the provider; Key: neither in plain
	OfChallenge Kind = "challenge" // that a passkey has to answer, once; Key: SHA-256 of it
	OfKey       Kind = "key"       // by which the key is known that secrets are sealed with
	OfUse       Kind = "use"       // when a session, device or token was used last; of the same name as that
	OfGuess     Kind = "guess"     // how often somebody guessed wrong of late; of no person's name in plain
	OfEntry     Kind = "entry"     // of the security log
	OfFailure   Kind = "failure"   // of the security log: what strangers can bring about as often as they like
)

// Kinds is all of them.
func Kinds() []Kind {
	return []Kind{OfShop, OfPerson, OfMember, OfSession, OfDevice, OfToken, OfLink, OfTicket, OfPasskey, OfIdentity, OfChallenge, OfKey, OfUse, OfGuess, OfEntry, OfFailure}
}

// Logged says whether each state of such a record goes into the log of the store: not what strangers can write as often as
// they like, nor what changes with every request, for the log only grows.
func (k Kind) Logged() bool {
	return k != OfUse && k != OfGuess && k != OfFailure && k != OfChallenge
}

// Record is one of them. ID is opaque.
type Record struct {
	Kind   Kind
	ID     string
	Person string    // whose it is; empty: nobody's
	Shop   string    // in which shop; empty: in all
	Key    string    // by which it is found besides; one record of a kind has it; empty: by none
	Ends   time.Time // when it counts no more, to the millisecond; zero: it has no end
	Data   string
}

// Which says which records of a kind are wanted: of a person, else of a shop, else all; in the order of their names, from
// the one after that name, so many.
type Which struct {
	Person, Shop, After string
	Most                int
}

// Reader finds records. What is not there is no error.
type Reader interface {
	Get(ctx context.Context, k Kind, id string) (r Record, there bool, err error)
	Find(ctx context.Context, k Kind, key string) (r Record, there bool, err error)
	List(ctx context.Context, k Kind, w Which) ([]Record, error)
	// Over is so many records of a kind that ended before a moment.
	Over(ctx context.Context, k Kind, before time.Time, most int) ([]Record, error)
}

// Store keeps records. Its makers (memory, a database) pass one suite of tests, accounttest.TestStore.
type Store interface {
	Reader
	// Change does several things at once, or, where do returns an error, none. It returns once that is safe. Do may
	// be called again, also after what it did was written: it has to come to the same then. Changes come one after the
	// other, whichever program makes them.
	Change(ctx context.Context, do func(Tx) error) error
}

// Tx is a change that is under way.
type Tx interface {
	Reader
	// Put writes a record, over the one of that name.
	Put(Record) error
	// Drop takes a record away, if it is there.
	Drop(k Kind, id string) error
}
