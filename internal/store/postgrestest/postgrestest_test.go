package postgrestest

import (
	"database/sql"
	"os"
	"testing"
)

func TestMain(m *testing.M) { os.Exit(Run(m)) }

// A killed server comes back with what was committed, and its default order is not that of bytes.
func TestPostgreSQLServer(t *testing.T) {
	s := Start(t, "work_mem=3MB")
	db, err := sql.Open("pgx", s.Database(t))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("create table x (n text); insert into x values ('b'), ('B'), ('a')"); err != nil {
		t.Fatal(err)
	}
	s.Kill(t)
	if err := db.Ping(); err == nil {
		t.Error("a killed server answers")
	}
	s.Again(t)
	var order, mem string
	if err := db.QueryRow("select string_agg(n, '' order by n), current_setting('work_mem') from x").Scan(&order, &mem); err != nil || order != "abB" || mem != "3MB" {
		t.Errorf("%q %q %v", order, mem, err)
	}
	s.Stop(t)
	s.Again(t)
}
