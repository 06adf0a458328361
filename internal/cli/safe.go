package cli

import (
	"fmt"
	"io"
	"os"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/ledger"
	"fettle/internal/store/datafolder"
	"fettle/internal/unit"
)

// mostNote is how many bytes the file of a checkpoint may have.
const mostNote = 64 << 10

type verifyStoreCmd struct {
	Checkpoint []string `help:"File of a checkpoint that was kept outside; may be given several times." placeholder:"FILE"`
	Key        string   `help:"Public key that signed it, as noted outside; the one of the data folder unless given." placeholder:"TEXT"`
}

func (verifyStoreCmd) Help() string {
	return `Reads everything a data folder keeps, while others go on, and names all that is not as it was written: the file of the database, every row against the log, the tree of the log against its leaves, the chain of every job, what is derived by deriving it again, the bytes of every photo, paper, body and shop. Against a checkpoint that was kept elsewhere it says whether the log has only grown since; without one, somebody who made all of it anew is not found. Exit code 3 says that something is damaged.

Example:

  fettle checkpoint --data fettle-data > checkpoint.txt
  fettle verify-store --checkpoint checkpoint.txt --data fettle-data
`
}

func (c verifyStoreCmd) run(env Env, a *app.App) (int, error) {
	if env.data == nil {
		return Usage, env.noData("verify-store")
	}
	var outside []ledger.Checkpoint
	for _, name := range c.Checkpoint {
		text, err := readNote(name)
		if err != nil {
			return Refused, err
		}
		point, err := env.data.OpenCheckpoint(text, c.Key)
		if err != nil {
			return Refused, err
		}
		outside = append(outside, point)
	}
	v, err := env.data.Verify(env.context(), outside...)
	for _, f := range v.Faults {
		fmt.Fprintf(env.Stdout, "Damaged: %s: %s\n", f.Where, diag.Plain(f.Msg))
	}
	if err != nil {
		return Refused, err
	}
	fmt.Fprintf(env.Stdout, "Read: a log of %s, %s with %s.\n", leaves(v.Log.Size), unit.Count(v.Blobs, "file"), bytesText(v.Bytes))
	if len(v.Faults) > 0 {
		fmt.Fprintf(env.Stdout, "Found: %s. Write nothing more into it; bring it back from a backup: fettle restore BACKUP --data NEW\n", unit.Count(len(v.Faults), "fault"))
		return Blocked, nil
	}
	fmt.Fprintln(env.Stdout, "All is as it was written.")
	for _, p := range outside {
		fmt.Fprintf(env.Stdout, "Since the checkpoint of %s (%s) the log has only grown.\n", leaves(p.Size), p.Origin)
	}
	if len(outside) == 0 {
		fmt.Fprintln(env.Stdout, "It was held against no checkpoint from outside: whoever made all of it anew would not be found.")
	}
	return Done, nil
}

func leaves(n int64) string {
	if n == 1 {
		return "1 leaf"
	}
	return fmt.Sprintf("%d leaves", n)
}

func bytesText(n int64) string {
	if n < 1e6 {
		return fmt.Sprintf("%d bytes", n)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

func readNote(name string) (text string, err error) {
	f, err := os.Open(name)
	if err != nil {
		return "", &diag.Error{Kind: diag.NotFound, Op: "verify-store", Subject: name, Msg: "cannot be read", Hint: "give the file that 'fettle checkpoint' wrote", Err: err}
	}
	defer f.Close() // it was only read from
	data, err := io.ReadAll(io.LimitReader(f, mostNote))
	return string(data), err
}

type checkpointCmd struct {
	Size int64 `help:"As the log was with so many leaves; as it is now unless given." default:"-1" placeholder:"N"`
}

func (checkpointCmd) Help() string {
	return `Prints what the log of a data folder is now, signed: to be kept elsewhere, on paper or with somebody else. 'fettle verify-store --checkpoint' holds the store against it later. Below it are a code that people can compare, also by telephone, and the public key. With --size and the number of leaves that you noted, the code has to be the one you noted.

Example:

  fettle checkpoint --data fettle-data > checkpoint.txt
`
}

func (c checkpointCmd) run(env Env, a *app.App) (int, error) {
	if env.at == nil {
		return Usage, env.noPlace("checkpoint")
	}
	p, err := env.at.Printed(env.context(), c.Size)
	if err != nil {
		return Refused, err
	}
	_, err = io.WriteString(env.Stdout, p.Text())
	return Done, err
}

type holdCmd struct {
	Job    string `arg:"" optional:"" help:"A job of the data folder; none lists all holds."`
	Reason string `help:"Put it on hold: why." placeholder:"TEXT"`
	End    string `help:"End the hold of this identity." placeholder:"ID"`
	By     string `help:"Who asks for it: an opaque name; FETTLE_PERSON unless given." placeholder:"NAME"`
}

func (holdCmd) Help() string {
	return `Puts a job on hold: nothing of it can be erased until the hold is ended. Without --reason and --end it lists the holds.

Example:

  fettle hold rear-job --reason "Claim 4711" --by p-31 --data fettle-data
  fettle hold --data fettle-data
`
}

func (c holdCmd) run(env Env, a *app.App) (int, error) {
	if env.at == nil {
		return Usage, env.noPlace("hold")
	}
	if c.Reason != "" && (c.End != "" || c.Job == "") {
		return Usage, &diag.Error{Kind: diag.Usage, Op: "hold", Subject: "fettle hold", Msg: "either puts a job on hold, or ends a hold", Hint: "give JOB and --reason, or --end alone"}
	}
	switch {
	case c.Reason != "":
		by, err := env.writer(c.By)
		if err != nil {
			return Usage, err
		}
		h, err := env.at.PutOnHold(env.context(), c.Job, by, c.Reason)
		if err != nil {
			return Refused, err
		}
		_, err = fmt.Fprintf(env.Stdout, "On hold: %s (%s). Nothing of it can be erased.\n", h.Job, h.ID)
		return Done, err
	case c.End != "":
		h, err := env.at.LetGo(env.context(), c.End)
		if err != nil {
			return Refused, err
		}
		_, err = fmt.Fprintf(env.Stdout, "Ended: hold %s of %s.\n", h.ID, h.Job)
		return Done, err
	}
	all, err := env.at.HoldsOf(env.context(), c.Job)
	if err != nil {
		return Refused, err
	}
	for _, h := range all {
		state := "stands"
		if h.Ended != "" {
			state = "ended " + h.Ended
		}
		fmt.Fprintf(env.Stdout, "%s  %s  since %s by %s, %s: %s\n", h.ID, h.Job, h.Begun, h.By, state, diag.Plain(h.Reason))
	}
	if len(all) == 0 {
		fmt.Fprintln(env.Stdout, "No holds.")
	}
	return Done, nil
}

type backupCmd struct {
	Place string `arg:"" help:"Folder for backups, best on another disk; each backup is a folder in it."`
}

func (backupCmd) Help() string {
	return `Makes a backup of a data folder while others go on: a copy of the database, as it is at one moment, and all photos, papers, bodies and shops it names, read back and held against their hashes. Files never change, and are in the place once, in its folder blobs; so the next backup copies only what is new. Each backup is a folder with the copy, manifest.json and SHA256SUMS, which 'sha256sum -c' verifies in it. The secret key of the log is not in it. Exit code 3 says that the store had files no longer whole; the rest is in the backup.

Example:

  fettle backup fettle-backups --data fettle-data
`
}

func (c backupCmd) run(env Env, a *app.App) (int, error) {
	if env.data == nil {
		return Usage, env.noData("backup")
	}
	b, err := env.data.Backup(env.context(), c.Place, env.world())
	if err != nil {
		return Refused, err
	}
	fmt.Fprintf(env.Stdout, "Backed up: %s\nIt has a log of %s, %s with %s; %d of them were new.\n", b.Place, leaves(b.Leaves), unit.Count(b.Blobs, "file"), bytesText(b.Bytes), b.Copied)
	if b.Mended > 0 {
		fmt.Fprintf(env.Stdout, "In the place for backups were %s damaged, and are mended.\n", unit.Count(b.Mended, "file"))
	}
	if b.Unheld {
		fmt.Fprintln(env.Stdout, "The database took no writes, so sweeps could not be held off meanwhile. See to that.")
	}
	for _, hash := range b.Missing {
		fmt.Fprintf(env.Stdout, "Not in it, because the store has it no longer whole: file %s\n", hash)
	}
	if len(b.Missing) > 0 {
		return Blocked, nil
	}
	return Done, nil
}

type restoreCmd struct {
	Backup string `arg:"" help:"Folder of one backup."`

	into string
}

func (restoreCmd) Help() string {
	return `Makes a new data folder out of a backup. All of the backup is read first: one that is cut, altered or of something else is refused. The data folder has to be new, or empty but for settings.yaml, and so has the database that its settings name; a backup of SQLite goes into PostgreSQL too, and the other way. Then all of it is verified. The key that signs checkpoints is a new one.

Example:

  fettle restore fettle-backups/20261130T090000Z-1f2e3d4c --data fettle-new
`
}

// ownFolder: it makes the data folder itself.
func (c *restoreCmd) ownFolder(dir string) { c.into = dir }

func (c *restoreCmd) run(env Env, a *app.App) (int, error) {
	if c.into == "" {
		return Usage, env.noData("restore")
	}
	m, v, err := datafolder.Restore(env.context(), c.Backup, c.into, env.world())
	if err != nil {
		return Refused, err
	}
	for _, f := range v.Faults {
		fmt.Fprintf(env.Stdout, "Damaged: %s: %s\n", f.Where, diag.Plain(f.Msg))
	}
	fmt.Fprintf(env.Stdout, "Restored: %s, as it was at %s: a log of %s, %s with %s.\n", c.into, m.At, leaves(v.Log.Size), unit.Count(v.Blobs, "file"), bytesText(v.Bytes))
	if len(v.Faults) > 0 {
		fmt.Fprintln(env.Stdout, "It was damaged when it was backed up.")
		return Blocked, nil
	}
	fmt.Fprintln(env.Stdout, "All of it is as it was written.")
	return Done, nil
}

type doctorCmd struct {
	dir string
}

func (doctorCmd) Help() string {
	return `Looks at a data folder: configuration, rights, database, files, free disk, clock, age of the last backup. Each line says what was looked at, whether it is fine, and what to do. It looks quickly; 'fettle verify-store' reads everything. Exit code 3 says that something is not fine.

Example:

  fettle doctor --data fettle-data
`
}

// ownFolder: it opens the data folder itself, and says what keeps it from that.
func (c *doctorCmd) ownFolder(dir string) { c.dir = dir }

func (c *doctorCmd) run(env Env, a *app.App) (int, error) {
	if c.dir == "" {
		return Usage, env.noData("doctor")
	}
	code := Done
	for _, f := range datafolder.Look(env.context(), c.dir, env.world()) {
		if f.ToDo == "" {
			fmt.Fprintf(env.Stdout, "fine      %-14s %s\n", f.What, diag.Plain(f.Is))
			continue
		}
		code = Blocked
		fmt.Fprintf(env.Stdout, "NOT FINE  %-14s %s\n%26sto do: %s\n", f.What, diag.Plain(f.Is), "", diag.Plain(f.ToDo))
	}
	return code, env.context().Err()
}
