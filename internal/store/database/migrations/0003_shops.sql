-- The shop that a job belongs to, as its events say: empty, and it was never handed over.
alter table jobs add column owner text collate "C" not null default '';
create index jobs_owner on jobs (owner, changed, id);

-- Which bytes and contents the events of a job have ever named, by their hash: recomputed from its events.
create table named (
	hash text collate "C" not null,
	job text collate "C" not null references jobs (id),
	primary key (hash, job)
);
create index named_job on named (job, hash);

-- Which shop has brought bytes or a content: its people may name them. Each has a leaf.
create table brought (
	hash text collate "C" not null,
	shop text collate "C" not null,
	at text not null,
	primary key (hash, shop)
);
