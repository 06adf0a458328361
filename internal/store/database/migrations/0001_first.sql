-- One text for SQLite and PostgreSQL. It is written for PostgreSQL; for SQLite, which orders texts by their
-- bytes anyway, the words that ask for that order are left out.

-- A job: its newest event, and its line in lists, which is never the truth. The vehicle is told by events; title, plate,
-- what it waits for and on whom were noted when its event number shown was the newest.
create table jobs (
	id text collate "C" not null primary key,
	seq bigint not null,
	hash text not null,
	changed text collate "C" not null,
	vehicle text not null,
	title text not null,
	plate text not null,
	waits text collate "C" not null,
	whom text collate "C" not null,
	shown bigint not null,
	salt text not null,
	sum text not null
);
create index jobs_changed on jobs (changed, id);
create index jobs_waits on jobs (waits, changed, id);
create index jobs_whom on jobs (whom, changed, id);

-- Events, as package ledger has them. What stands beside one can be erased; all else is hashed.
create table events (
	job text collate "C" not null references jobs (id),
	seq bigint not null,
	at text not null,
	author text not null,
	what text not null,
	about text not null,
	seen bigint not null,
	payload text not null,
	prev text not null,
	hash text not null,
	beside text not null,
	primary key (job, seq)
);
create index events_about on events (job, about);

-- Changes by the key of whoever sent them: the events from first on, so many.
create table requests (
	job text collate "C" not null references jobs (id),
	key text collate "C" not null,
	first bigint not null,
	events bigint not null,
	primary key (job, key)
);

-- The log. A leaf says of one thing what its hash is; nodes are the tree above the leaves.
create table leaves (
	n bigint not null primary key,
	kind text not null,
	name text collate "C" not null,
	seq bigint not null,
	hash text not null,
	request text not null
);
create index leaves_name on leaves (kind, name, seq);
create table nodes (
	at bigint not null primary key,
	hash bytea not null
);

-- What a job is found by: recomputed from its events, title and plate.
create table terms (
	term text collate "C" not null,
	job text collate "C" not null references jobs (id),
	primary key (term, job)
);
create index terms_job on terms (job, term);

-- Bytes by their SHA-256: the row is written once they are safe.
create table blobs (
	hash text collate "C" not null primary key,
	size bigint not null,
	at text not null
);

-- Bodies and shops by the hash of their files, whose bytes are blobs.
create table library (
	hash text collate "C" not null primary key,
	at text not null
);
create table library_files (
	library text collate "C" not null references library (hash),
	name text collate "C" not null,
	blob text collate "C" not null references blobs (hash),
	primary key (library, name)
);
create index library_files_blob on library_files (blob);

-- The files that a job was written in by hand before it was kept.
create table asides (
	job text collate "C" not null primary key,
	library text collate "C" not null references library (hash)
);

-- Rows that may change and have to be trusted: the newest leaf about a row is that row, by the hash
-- of its columns; texts of people go into it as a seal with the salt of the row.
create table people (
	id text collate "C" not null primary key,
	name text not null,
	email text collate "C" not null,
	roles text not null,
	state text not null,
	secret text not null,
	salt text not null
);
create index people_email on people (email);
create table settings (
	name text collate "C" not null primary key,
	value text not null,
	salt text not null
);
create table holds (
	id text collate "C" not null primary key,
	job text collate "C" not null references jobs (id),
	author text not null,
	reason text not null,
	begun text not null,
	ended text not null,
	salt text not null
);
create index holds_job on holds (job);

-- Who is signed in, by the hash of what they show.
create table sign_ins (
	hash text collate "C" not null primary key,
	person text collate "C" not null references people (id),
	begun text not null,
	used text not null,
	ends text not null,
	device text not null
);
create index sign_ins_person on sign_ins (person);

-- Work in the background. One task of a kind about a thing waits or runs at a time; what is asked for
-- again while it runs stands in later. The sum is of all the other columns.
create table tasks (
	id text collate "C" not null primary key,
	kind text collate "C" not null,
	about text collate "C" not null,
	input text not null,
	author text not null,
	later text,
	state text not null,
	tries bigint not null,
	made text collate "C" not null,
	due text collate "C" not null,
	worker text not null,
	lease text collate "C" not null,
	stopping bigint not null,
	progress text not null,
	fault text not null,
	result text not null,
	sum text not null
);
create unique index tasks_once on tasks (kind, about) where state in ('waiting', 'running');
create index tasks_due on tasks (state, due, id);
create index tasks_made on tasks (made, id);
