package account_test

import (
	"bytes"
	"crypto/rand"
	"encoding/base64"
	"encoding/hex"
	"strings"
	"testing"
	_ "unsafe" // for the function below

	"golang.org/x/crypto/argon2"

	"fettle/internal/account"
	"fettle/internal/diag"
)

// deriveKey is what argon2.IDKey calls; the vectors of the RFC need a secret and associated data, which that does not take.
//
//go:linkname deriveKey golang.org/x/crypto/argon2.deriveKey
func deriveKey(mode int, password, salt, secret, data []byte, time, memory uint32, threads uint8, keyLen uint32) []byte

// TestArgon2id holds the hash against RFC 9106, section 5.3 (memory 32 KiB, 3 passes, 4 lanes).
func TestArgon2id(t *testing.T) {
	const argon2id = 2
	got := deriveKey(argon2id, bytes.Repeat([]byte{1}, 32), bytes.Repeat([]byte{2}, 16), bytes.Repeat([]byte{3}, 8), bytes.Repeat([]byte{4}, 12), 3, 32, 4, 32)
	if want := "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"; hex.EncodeToString(got) != want {
		t.Errorf("%x, want %s", got, want)
	}
	same := deriveKey(argon2id, []byte("password"), []byte("somesalt"), nil, nil, 2, 64, 1, 32)
	if !bytes.Equal(same, argon2.IDKey([]byte("password"), []byte("somesalt"), 2, 64, 1, 32)) {
		t.Error("the function that is tested is not the one that is used")
	}
}

// TestDefaultCost: memory and passes are those of the second recommended option of RFC 9106, section 4 (64 MiB, three passes).
func TestDefaultCost(t *testing.T) {
	if account.DefaultCost != (account.Cost{KiB: 65536, Passes: 3, Lanes: 1}) {
		t.Errorf("%+v", account.DefaultCost)
	}
	for _, c := range []account.Cost{cheap, {KiB: 19<<10 - 1, Passes: 2, Lanes: 1}, {KiB: 64 << 10, Passes: 1, Lanes: 1}, {KiB: 64 << 10, Passes: 3}} {
		if _, err := account.New(account.Settings{Store: account.NewMemory(), Random: rand.Reader, Key: make([]byte, 32), Cost: c}); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%+v is taken: %v", c, err)
		}
	}
	for _, key := range []int{0, 16, 31, 33} {
		if _, err := account.New(account.Settings{Store: account.NewMemory(), Random: rand.Reader, Key: make([]byte, key)}); diag.KindOf(err) != diag.Invalid {
			t.Errorf("a key of %d bytes is taken: %v", key, err)
		}
	}
}

// TestRehash: a hash of another cost is made anew when its owner signs in, and only then.
func TestRehash(t *testing.T) {
	w := newWorld(t)
	now := account.Settings{Store: w.store, Now: w.clock.now, Random: rand.Reader, Key: make([]byte, 32), Cost: account.Cost{KiB: 128, Passes: 2, Lanes: 1}, Weak: true}
	later := got(account.New(now))(t)
	hashed := func() string { return got3(w.store.Get(t.Context(), account.OfPerson, w.anna.ID))(t).Data }
	was := hashed()
	if _, err := later.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong"}, home); err == nil || hashed() != was {
		t.Error("hashed anew without the password")
	}
	got(later.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord}, home))(t)
	if !contains(hashed(), "$argon2id$v=19$m=128,t=2,p=1$") || contains(was, "m=128") {
		t.Errorf("not hashed anew: %s", hashed())
	}
	got(later.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord}, home))(t)
}

func got3[T any](v T, _ bool, err error) func(t *testing.T) T { return got(v, err) }

// TestPasswords: at least 12 characters, at most 256 bytes, any characters; what is guessed soon is refused. The examples were made up; which
// of the first kind are common was seen in the list of zxcvbn (MIT).
func TestPasswords(t *testing.T) {
	words := []string{"Anna Weberle", "a.weberle@workshop-lakeside.example", "Workshop Lakeside"}
	for _, p := range []string{
		"", "short", "elevenchars", "            ", "aaaaaaaaaaaa", "abababababab", "abcabcabcabcabc", "123456789012", "1234567890123456", "abcdefghijkl", "zyxwvutsrqpo",
		"qwertyuiopas", "qwertyuiop[]", "asdfghjkl;'#", "1qaz2wsx3edc", "zaq12wsxcde3", "password1234", "Password1234!", "passwordpassword", "P@ssw0rdP@ssw0rd", "iloveyou1234", "letmeinletmein",
		"Anna Weberle", "annaweberle1", "AnnaWeberle!!", "weberleanna2026", "Anna-Weberle-1985", "workshoplakeside", "Workshop Lakeside 1", "lakesideworkshop99", "lakeside-anna-weberle", "fettlefettle", "fettle-fettle-1", "elrebew anna",
		"01.01.1990 01.01.1990", "\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00", "\xff\xfe\xfd\xfc\xff\xfe\xfd\xfc\xff\xfe\xfd\xfc", strings.Repeat("ab c", 65), "monkeymonkey12",
	} {
		if err := account.CheckPassword(p, words...); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q is taken: %v", p, err)
		} else if p != "" && len(p) > 4 && contains(err.Error(), p) {
			t.Errorf("the refusal shows the password: %v", err)
		}
	}
	for _, p := range []string{"weberle 8427193 anna", "8427193.61542-anna", "lakeside 84 27 19 36"} { // digits are no words
		if err := account.CheckPassword(p, words...); diag.KindOf(err) != diag.Invalid || !contains(err.Error(), "names that go with") {
			t.Errorf("%q: %v", p, err)
		}
	}
	exact := strings.Repeat("many different words here, ", 10)[:256]
	if err := account.CheckPassword(exact, words...); err != nil {
		t.Errorf("256 bytes: %v", err)
	}
	if err := account.CheckPassword(exact+"a", words...); diag.KindOf(err) != diag.Invalid {
		t.Errorf("257 bytes: %v", err)
	}
	for _, p := range []string{bossWord, annaWord, otherWord, "kX9#vQ2mLp7w", "grüße vom blauen amboß", "塗装前に必ず確認する事項", "🔧🔩🪛🧰🪚🔨⛏🪓🗜⚒🛠⚙", "  leading and trailing stay  ", strings.Repeat("many different words here, ", 9)} {
		if err := account.CheckPassword(p, words...); err != nil {
			t.Errorf("%q is refused: %v", p, err)
		}
	}
}

// TestPasswordsAreWhatWasTyped: blanks and letters stay, however accents are made of letters, and nothing behind any place is cut off.
func TestPasswordsAreWhatWasTyped(t *testing.T) {
	w := newWorld(t)
	set := func(p string) {
		link := got(w.ResetLink(t.Context(), w.bossIn().Who, w.anna.ID, false))(t)
		must(t, w.SetPassword(t.Context(), link.Text, p, home))
	}
	long := strings.Repeat("many different words here, ", 9)
	set(long + "a")
	for _, p := range []string{long, long + "b", long + "a ", strings.ToUpper(long + "a")} {
		w.clock.pass(time24)
		if _, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: p}, home); err == nil {
			t.Errorf("another password fits: %q", p)
		}
	}
	w.clock.pass(time24)
	w.signedIn("anna", long+"a")
	set("gr\u00fc\u00dfe vom blauen ambo\u00df")
	w.signedIn("anna", "gru\u0308\u00dfe vom blauen ambo\u00df")
}

// TestDamagedHashesLetNobodyIn: whatever stands in the place of a hash.
func TestDamagedHashesLetNobodyIn(t *testing.T) {
	w := newWorld(t)
	r := got3(w.store.Get(t.Context(), account.OfPerson, w.anna.ID))(t)
	salt := base64.RawStdEncoding.EncodeToString(make([]byte, 16))
	for i, hash := range []string{"x", "$", "$$$$$", "$argon2id$v=19$m=64,t=1,p=1$" + salt + "$", "$argon2id$v=19$m=64,t=0,p=1$" + salt + "$" + salt, "$argon2id$v=16$m=64,t=1,p=1$" + salt + "$" + salt + salt,
		"$argon2i$v=19$m=64,t=1,p=1$" + salt + "$" + strings.Repeat("A", 43), "$argon2id$v=19$m=4294967295,t=1,p=1$" + salt + "$" + strings.Repeat("A", 43), "$argon2id$v=19$m=64,t=1,p=0$" + salt + "$" + strings.Repeat("A", 43), annaWord} {
		at := strings.Index(r.Data, `"password":"`) + len(`"password":"`)
		bad := r
		bad.Data = r.Data[:at] + hash + r.Data[at+strings.Index(r.Data[at:], `"`):]
		must(t, w.store.Change(t.Context(), func(tx account.Tx) error { return tx.Put(bad) }))
		w.clock.pass(time24)
		if in, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord}, home); err == nil || in.Session != "" {
			t.Errorf("%d: let in by %q", i, hash)
		}
	}
}
