-- Every state of a row that may change has a leaf: also of tasks, and of what lists show of a job.

-- Goes into the sum of a task, so that nobody can try out what it says by the leaf.
alter table tasks add column salt text not null default '';

-- While one of these stands no sweep removes anything. Of whoever does not prolong it in time it is taken away.
create table pauses (
	id text collate "C" not null primary key,
	author text not null,
	begun text not null,
	ends text not null
);

-- The vehicle of a job was handed back on a day, when its newest event was the one of this number.
create table handed_back (
	job text collate "C" not null primary key references jobs (id),
	seq bigint not null,
	day text not null,
	author text not null,
	at text not null
);

-- A job that was kept as long as the shop keeps jobs, and removed: how many events it had, and the hash of the last.
create table removed (
	job text collate "C" not null primary key,
	events bigint not null,
	hash text not null,
	day text not null,
	days bigint not null,
	author text not null,
	at text not null
);
