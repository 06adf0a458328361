package datafolder

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/ledger"
	"fettle/internal/store/safefile"
)

// What a data folder has to have, and how far clocks may differ (common practice, no source).
const (
	leastFree   = 1 << 30 // bytes; or twice what the database has, where that is more: a copy of it has to fit
	mostAhead   = 2 * time.Minute
	mostSkew    = 5 * time.Second
	mostAge     = 48 * time.Hour // of the last backup
	nothingToDo = ""
)

// Finding is one thing that was looked at. ToDo is empty where it is fine.
type Finding struct {
	What, Is, ToDo string
}

// Look looks at a data folder: what is in the way of its being kept safe, and what to do. It goes on where something is not
// fine. Who opens the folder is given, so that what keeps it from being opened is a finding too.
func Look(ctx context.Context, dir string, w World) []Finding {
	set, err := readSettings(dir, w.Lookup)
	out := []Finding{found("configuration", "settings and environment can be read", err)}
	out = append(out, rights(dir)...)
	if err != nil {
		return out
	}
	s, err := Open(ctx, dir, false, w)
	out = append(out, found("database", "opens, and its settings are in force", err))
	if err != nil {
		return append(out, disk(dir), lastBackupOf(dir, w.Now()))
	}
	out = append(out, found("database", s.Name()+" is sound as far as is seen quickly", s.Sound(ctx, false)))
	where := "files in the folder can be reached"
	if set.Bucket.Name != "" {
		where = "files in the bucket can be reached"
	}
	_, err = s.Blobs.Size(ctx, safefile.Drawn(32))
	if diag.KindOf(err) == diag.NotFound {
		err = nil
	}
	out = append(out, found("files", where, err), s.people(ctx, w), disk(dir), s.clock(ctx, w.Now().UTC()), lastBackupOf(dir, w.Now()))
	if err := s.Close(); err != nil {
		out = append(out, found("database", "", err))
	}
	return out
}

// found is a finding about something that went well or did not.
func found(what, is string, err error) Finding {
	if err == nil {
		return Finding{what, is, nothingToDo}
	}
	var e *diag.Error
	if errors.As(err, &e) && e.Hint != "" {
		own := *e
		own.Hint = ""
		return Finding{what, own.Error(), e.Hint}
	}
	return Finding{what, err.Error(), "see to what it names"}
}

// rights: the folder, the database and what is in keys belong to whoever runs the program, and to nobody else.
func rights(dir string) []Finding {
	if runtime.GOOS == "windows" {
		return []Finding{{"rights", "not looked at on this system", nothingToDo}}
	}
	names := []string{".", databaseFile, databaseFile + "-wal", databaseFile + "-turn", settingsFile, blobsDir, backupsDir, keysDir, lastFile}
	if keys, err := os.ReadDir(filepath.Join(dir, keysDir)); err == nil {
		for _, k := range keys {
			names = append(names, filepath.Join(keysDir, k.Name()))
		}
	}
	var out []Finding
	for _, name := range names {
		fi, err := os.Lstat(filepath.Join(dir, name))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			out = append(out, found("rights", "", err))
			continue
		}
		never := fs.FileMode(0o022)
		if name != "." && strings.HasPrefix(name, keysDir+string(filepath.Separator)) || strings.HasPrefix(name, databaseFile) {
			never = 0o077
		}
		switch mode := fi.Mode(); {
		case mode&fs.ModeSymlink != 0:
			out = append(out, Finding{"rights", name + " is a link", "put what it leads to in its place"})
		case mode.Perm()&never != 0:
			out = append(out, Finding{"rights", fmt.Sprintf("%s has the rights %04o: others may do too much", name, mode.Perm()), fmt.Sprintf("chmod %04o %s", mode.Perm()&^never, filepath.Join(dir, name))})
		}
	}
	if len(out) == 0 {
		out = append(out, Finding{"rights", "nobody else may write, or read database and keys", nothingToDo})
	}
	return out
}

// disk: a copy of the database fits, and some more.
func disk(dir string) Finding {
	free, known, err := space(dir)
	if err != nil {
		return found("disk", "", safefile.Unusable(dir, err))
	}
	if !known {
		return Finding{"disk", "how much is free is not known on this system", nothingToDo}
	}
	least := uint64(leastFree)
	if fi, err := os.Stat(filepath.Join(dir, databaseFile)); err == nil {
		least = max(least, 2*uint64(fi.Size()))
	}
	is := fmt.Sprintf("%d MB are free, %d MB have to be", free>>20, least>>20)
	if free < least {
		return Finding{"disk", is, "make room, or move the data folder to a larger disk"}
	}
	return Finding{"disk", is, nothingToDo}
}

// clock: no event is from the future, and a server of the database has the same time.
func (s *Store) clock(ctx context.Context, now time.Time) Finding {
	began := time.Now()
	server, newest, err := s.Clock(ctx)
	if err != nil {
		return found("clock", "", err)
	}
	took := time.Since(began)
	if newest != "" {
		at, err := time.Parse(ledger.TimeForm, newest)
		if err != nil {
			return Finding{"clock", "the newest event has the time " + newest, "verify the store"}
		}
		if at.Sub(now) > mostAhead {
			return Finding{"clock", fmt.Sprintf("it is %s here, and the newest event is of %s", now.Format(ledger.TimeForm), newest), "set the clock of this computer, by NTP"}
		}
	}
	if server != "" {
		at, err := time.Parse(ledger.TimeForm, server)
		if err != nil || at.Sub(now).Abs() > mostSkew+took {
			return Finding{"clock", fmt.Sprintf("it is %s here, and %s on the server of the database", now.Format(ledger.TimeForm), server), "set both clocks by NTP"}
		}
	}
	return Finding{"clock", "agrees with the newest event" + map[bool]string{true: " and the server of the database"}[server != ""], nothingToDo}
}

// lastBackupOf: there is one, not too old, and it is where it was made.
func lastBackupOf(dir string, now time.Time) Finding {
	const what, do = "backup", "back it up: "
	var last lastBackup
	data, err := readUpTo(filepath.Join(dir, lastFile), mostManifest)
	if errors.Is(err, fs.ErrNotExist) {
		return Finding{what, "there is none yet", do + dir}
	}
	if err == nil {
		err = json.Unmarshal(data, &last)
	}
	at, bad := time.Parse(ledger.TimeForm, last.At)
	if err = errors.Join(err, bad); err != nil {
		return Finding{what, lastFile + " cannot be read", do + dir}
	}
	age := now.Sub(at)
	m, err := readManifest(last.Place)
	switch {
	case err != nil || m.Seal != last.Seal:
		return Finding{what, fmt.Sprintf("the one of %s is no longer in %s as it was made, or its disk is not there", last.At, last.Place), "bring its disk back, or " + do + dir}
	case age > mostAge:
		return Finding{what, fmt.Sprintf("the last is of %s, %d hours ago; it may be %d", last.At, int(age.Hours()), int(mostAge.Hours())), do + dir}
	case age < -mostAhead:
		return Finding{what, "the last is of " + last.At + ", which is to come", "set the clock of this computer, by NTP"}
	case last.Missing > 0:
		return Finding{what, fmt.Sprintf("in the one of %s are %d files missing", last.At, last.Missing), "verify the store: " + dir}
	}
	return Finding{what, fmt.Sprintf("the last is of %s, in %s", last.At, last.Place), nothingToDo}
}
