package database

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store"
)

// OwnerOf is the shop that a job belongs to.
func (d *Database) OwnerOf(ctx context.Context, id string) (owner string, err error) {
	if err := store.CheckID(id); err != nil {
		return "", err
	}
	there := false
	err = d.Read(ctx, "select owner from jobs where id = $1", []any{id}, func(scan func(...any) error) error {
		there = true
		return scan(&owner)
	})
	if err == nil && !there {
		err = store.NoJob(id)
	}
	return owner, err
}

// ListOf is jobs of some owners in the order of their names.
func (d *Database) ListOf(ctx context.Context, owners []string, after string, most int) ([]app.JobLine, error) {
	f := &finder{}
	f.text = "select id, seq, hash, owner from jobs where id > " + f.value(after) + " and " + f.among("owner", owners) + " order by id limit " + f.value(max(0, most))
	var out []app.JobLine
	err := d.Read(ctx, f.text, f.values, func(scan func(...any) error) error {
		var l app.JobLine
		err := scan(&l.ID, &l.Head.Seq, &l.Head.Hash, &l.Owner)
		out = append(out, l)
		return err
	})
	return slices.Clip(out), err
}

// among is the condition that a column has one of some values; none is never.
func (f *finder) among(column string, values []string) string {
	text := "false"
	for _, v := range values {
		text += " or " + column + " = " + f.value(v)
	}
	return "(" + text + ")"
}

// Named says whether a job of some owners has ever named bytes or a content.
func (d *Database) Named(ctx context.Context, owners []string, hash string) (is bool, err error) {
	f := &finder{}
	f.text = "select 1 from named n join jobs j on j.id = n.job where n.hash = " + f.value(hash) + " and " + f.among("j.owner", owners) + " limit 1"
	err = d.Read(ctx, f.text, f.values, func(scan func(...any) error) error {
		var one int
		is = true
		return scan(&one)
	})
	return is, err
}

// HasBrought says whether a shop has brought bytes or a content.
func (d *Database) HasBrought(ctx context.Context, shop, hash string) (is bool, err error) {
	err = d.Read(ctx, "select 1 from brought where hash = $1 and shop = $2", []any{hash, shop}, func(scan func(...any) error) error {
		var one int
		is = true
		return scan(&one)
	})
	return is, err
}

// NoteBrought notes that a shop has brought bytes or a content.
func (d *Database) NoteBrought(ctx context.Context, shop, hash string) error {
	if is, err := d.HasBrought(ctx, shop, hash); is || err != nil {
		return err
	}
	return d.Write(ctx, func(t *Tx) error {
		at := t.now()
		n, err := t.Exec("insert into brought (hash, shop, at) values ($1, $2, $3) on conflict (hash, shop) do nothing", hash, shop, at)
		if err == nil && n == 1 {
			t.leaf(leaf{kind: ofBrought, name: broughtName(hash, shop), hash: rowSum("brought", hash, shop, at)})
		}
		return err
	})
}

func broughtName(hash, shop string) string { return hash + " " + shop }

// dropBrought forgets who has brought bytes that are removed.
func (t *Tx) dropBrought(hash string) error {
	var shops []string
	err := t.Query("select shop from brought where hash = $1 order by shop", []any{hash}, func(scan func(...any) error) error {
		var shop string
		err := scan(&shop)
		shops = append(shops, shop)
		return err
	})
	if err == nil && len(shops) > 0 {
		_, err = t.Exec("delete from brought where hash = $1", hash)
	}
	for _, shop := range shops {
		t.leaf(leaf{kind: ofBrought, name: broughtName(hash, shop)})
	}
	return err
}

// derive notes what more events of a job say of its owner, and of what it names.
func (t *Tx) derive(id string, c ledger.Chain) error {
	library, evidence, _, err := job.Contents(c)
	if err != nil {
		return err
	}
	for _, hash := range append(library, evidence...) {
		if _, err := t.Exec("insert into named (hash, job) values ($1, $2) on conflict (hash, job) do nothing", hash, id); err != nil {
			return err
		}
	}
	owner, is, err := job.HandedTo(c)
	if err == nil && is {
		_, err = t.Exec("update jobs set owner = $2 where id = $1", id, owner)
	}
	return err
}

// telling are the kinds of event that say of a job what derive notes.
var telling = []job.EventKind{job.JobOpened, job.BodyNamed, job.ShopNamed, job.EvidenceAdded, job.JobHandedOver}

// deriveAll does so for all jobs that were there before the tables could say it.
func (t *Tx) deriveAll() error {
	var ids []string
	err := t.Query("select id from jobs order by id", nil, func(scan func(...any) error) error {
		var id string
		err := scan(&id)
		ids = append(ids, id)
		return err
	})
	f := &finder{}
	kinds := make([]string, len(telling))
	for i, k := range telling {
		kinds[i] = string(k)
	}
	f.text = "select " + eventColumns + " from events where " + f.among("what", kinds) + " and job = "
	for _, id := range ids {
		var c ledger.Chain
		own := *f
		err = errors.Join(err, t.Query(own.text+own.value(id)+" order by seq", own.values, scanInto(&c)))
		if err == nil {
			err = t.derive(id, c)
		}
	}
	return err
}

// belongs: the owner of a job and what it names are what its events say.
func (v *verifier) belongs(r jobRow, c ledger.Chain) error {
	library, evidence, _, err := job.Contents(c)
	if err != nil {
		return v.fault(r.ID, "%v", err)
	}
	want := append(library, evidence...)
	slices.Sort(want)
	var have []string
	err = v.query("named", "select hash from named where job = $1 order by hash", []any{r.ID}, func(scan func(...any) error) error {
		var hash string
		err := scan(&hash)
		have = append(have, hash)
		return err
	})
	owner, _, bad := job.HandedTo(c)
	if err = errors.Join(err, bad); err == nil && (owner != r.Owner || !slices.Equal(have, slices.Compact(want))) {
		err = v.fault(r.ID, "whose it is, or what it names, is not what its events say")
	}
	return err
}

// brought has a leaf for each row.
func (v *verifier) brought() error {
	return v.paged("brought", "select hash || ' ' || shop, hash, shop, at from brought where hash || ' ' || shop > $1 order by 1 limit $2", func(cells []any) error {
		return v.content(ofBrought, fmt.Sprint(cells[0]), rowSum("brought", fmt.Sprint(cells[1]), fmt.Sprint(cells[2]), fmt.Sprint(cells[3])))
	})
}
