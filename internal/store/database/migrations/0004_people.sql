-- People, and what is known of them: the tables of version 1 for that were never written into.
drop table sign_ins;
drop table people;

-- Records about people, shops, sessions and so on, by kind: an id is the kind, a stroke, and an opaque name. What each
-- says stands in data.
create table accounts (
	id text collate "C" not null primary key,
	kind text collate "C" not null,
	person text collate "C" not null,
	shop text collate "C" not null,
	key text collate "C" not null,
	ends text collate "C" not null,
	data text not null,
	salt text not null
);
create unique index accounts_key on accounts (kind, key) where key <> '';
create index accounts_person on accounts (person, kind, id);
create index accounts_shop on accounts (shop, kind, id);
create index accounts_ends on accounts (kind, ends) where ends <> '';

-- The same for what strangers can write as often as they like, or changes with every request: it goes into no leaf, each row has a sum of its own.
create table passing (
	id text collate "C" not null primary key,
	kind text collate "C" not null,
	person text collate "C" not null,
	shop text collate "C" not null,
	key text collate "C" not null,
	ends text collate "C" not null,
	data text not null,
	sum text not null
);
create unique index passing_key on passing (kind, key) where key <> '';
create index passing_person on passing (person, kind, id);
create index passing_shop on passing (shop, kind, id);
create index passing_ends on passing (kind, ends) where ends <> '';
