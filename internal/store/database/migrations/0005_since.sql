-- What exactly a job waits for, since when, and the day on which that was judged: beside what it waits for and on whom.
alter table jobs add column act text not null default '';
alter table jobs add column since text not null default '';
alter table jobs add column judged text not null default '';
