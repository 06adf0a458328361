package blobs

import (
	"fmt"
	"net"
	"net/url"
	"regexp"
	"strings"

	"fettle/internal/diag"
)

// Secret is a text that is not shown.
type Secret string

// String does not show it, nor does any other way of printing it.
func (s Secret) String() string {
	if s == "" {
		return ""
	}
	return "(secret)"
}

// Format prints no secret, whatever the verb.
func (s Secret) Format(f fmt.State, _ rune) { fmt.Fprint(f, s.String()) }

// MarshalText writes no secret.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// S3Settings say where an S3-compatible store is and who we are there.
type S3Settings struct {
	Endpoint string // https://host or https://host:port; http:// where the network is one's own
	Bucket   string
	Region   string // us-east-1 where nothing is said: stores of one's own do not look at it
	Prefix   string // what names in the bucket begin with
	KeyID    string
	Secret   Secret
}

// Variables of the environment. Each but those of the last two may be left out; instead of KeyIDVar and SecretVar,
// the same with _FILE behind it names a file that has it.
const (
	EndpointVar = "FETTLE_S3_ENDPOINT"
	BucketVar   = "FETTLE_S3_BUCKET"
	RegionVar   = "FETTLE_S3_REGION"
	PrefixVar   = "FETTLE_S3_PREFIX"
	KeyIDVar    = "FETTLE_S3_KEY_ID"
	SecretVar   = "FETTLE_S3_SECRET"

	fileSuffix    = "_FILE"
	defaultRegion = "us-east-1"
)

// With is the settings with those that the environment gives, which come first. Lookup is a variable of it; read is what
// a file has.
func (s S3Settings) With(lookup func(string) (string, bool), read func(name string) ([]byte, error)) (S3Settings, error) {
	secret := string(s.Secret)
	for _, v := range []struct {
		name string
		to   *string
	}{{EndpointVar, &s.Endpoint}, {BucketVar, &s.Bucket}, {RegionVar, &s.Region}, {PrefixVar, &s.Prefix}} {
		if value, is := lookup(v.name); is {
			*v.to = value
		}
	}
	for _, v := range []struct {
		name string
		to   *string
	}{{KeyIDVar, &s.KeyID}, {SecretVar, &secret}} {
		value, is, err := Given(v.name, lookup, read)
		if err != nil {
			return S3Settings{}, err
		}
		if is {
			*v.to = value
		}
	}
	if s.Secret = Secret(secret); s.Region == "" {
		s.Region = defaultRegion
	}
	return s, nil
}

// Given is a variable of the environment, or what is in the file that the same with _FILE behind it names: secrets
// come so. Is says that one of them is there.
func Given(name string, lookup func(string) (string, bool), read func(name string) ([]byte, error)) (value string, is bool, err error) {
	value, is = lookup(name)
	file, named := lookup(name + fileSuffix)
	switch {
	case is && named:
		return "", false, &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: name, Msg: "is given, and " + name + fileSuffix + " too", Hint: "give one of them"}
	case named:
		data, err := read(file)
		if err != nil {
			return "", false, &diag.Error{Kind: diag.Unavailable, Op: "settings", Subject: name + fileSuffix, Msg: "names a file that cannot be read", Hint: "name a file that this program may read", Err: err}
		}
		return strings.TrimRight(string(data), "\r\n"), true, nil
	}
	return value, is, nil
}

var (
	bucketForm = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]{1,61}[a-z0-9]$`) // rules of S3 for names of buckets
	prefixForm = regexp.MustCompile(`^([A-Za-z0-9._-]+/)*$`)
)

// Check says everything that is wrong with the settings; it tells no secret.
func (s S3Settings) Check() error {
	var faults []string
	if u, err := url.Parse(s.Endpoint); err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || u.User != nil || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" {
		faults = append(faults, "the address of the store is https://host or https://host:port ("+EndpointVar+")")
	}
	if !bucketForm.MatchString(s.Bucket) || net.ParseIP(s.Bucket) != nil {
		faults = append(faults, "the bucket has from 3 to 63 small letters, digits, '-' and '.' ("+BucketVar+")")
	}
	if !prefixForm.MatchString(s.Prefix) {
		faults = append(faults, "the prefix is folders with a slash behind each, as fettle/ ("+PrefixVar+")")
	}
	if s.KeyID == "" || strings.TrimSpace(s.KeyID) != s.KeyID {
		faults = append(faults, "the key id is missing, or has blanks ("+KeyIDVar+")")
	}
	if s.Secret == "" || strings.TrimSpace(string(s.Secret)) != string(s.Secret) {
		faults = append(faults, "the secret is missing, or has blanks ("+SecretVar+" or "+SecretVar+fileSuffix+")")
	}
	if len(faults) == 0 {
		return nil
	}
	return &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "S3", Msg: strings.Join(faults, "; "), Hint: "correct the settings"}
}

// host is the endpoint without its scheme, and whether it is not encrypted.
func (s S3Settings) host() (host string, plain bool) {
	if host, plain = strings.CutPrefix(s.Endpoint, "http://"); !plain {
		host = strings.TrimPrefix(s.Endpoint, "https://")
	}
	return strings.TrimRight(host, "/"), plain
}
