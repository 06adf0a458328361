package plan

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/sched"
	"fettle/internal/unit"
)

// Licensed work is done by somebody who has the skill and is qualified beside it: to recover
// refrigerant, to weld a casting. Who is on the day the job begins is planned with; whose certificate
// has run out on the day of the step does not do it.

// qualifiedAs is the skill of those who have it and are qualified for something beside.
func qualifiedAs(s body.SkillID, what string) body.SkillID {
	return body.SkillID(string(s) + ", qualified for " + what)
}

// licenses is what steps of the plan ask somebody to be qualified for.
func (b *builder) licenses() []string {
	var out []string
	for _, n := range b.nodes {
		out = append(out, n.step.Qualified)
	}
	return out
}

// licensesOf is the same of several jobs.
func licensesOf(jobs []InShop) []string {
	var out []string
	for _, j := range jobs {
		for _, s := range j.Plan.Steps {
			out = append(out, s.Qualified)
		}
	}
	return out
}

// someoneDoes says that somebody has a skill.
func someoneDoes(workers []sched.Worker, s body.SkillID) bool {
	return slices.ContainsFunc(workers, func(w sched.Worker) bool { return slices.Contains(w.Skills, string(s)) })
}

// licensed gives a step that asks for a qualification to somebody who has it.
func (b *builder) licensed(n *node, a *sched.Activity, workers []sched.Worker) {
	if n.step.Qualified == "" || a.Skill == "" {
		return
	}
	as := qualifiedAs(n.step.Skill, n.step.Qualified)
	if a.Skill = string(as); !someoneDoes(workers, as) {
		b.block(n.step.Name, diag.Say("plan.nobody-qualified", "nobody in the shop does {skill:q} work and is qualified for {for:q} on {start}", n.step.Skill, n.step.Qualified, b.in.Job.Start),
			"give the certificate of somebody who is under 'qualifications' in the shop file, or have it done by another firm as a skill of its own")
		a.Skill = ""
	}
}

// stillQualified tells of a step that is dated after the certificate of who is to do it.
func (b *builder) stillQualified(n *node) {
	p, ok := b.in.Shop.Person(n.step.Person)
	if !ok || n.step.Qualified == "" {
		return
	}
	day := unit.DateOf(n.step.To)
	if _, held := p.QualifiedFor(n.step.Qualified, day); !held {
		b.block(n.step.Name, diag.Say("plan.qualification-ends", "{person} does {step:q} on {day}, and is qualified for {for:q} no longer then", p.ID, n.step.Name, day, n.step.Qualified), "have the certificate renewed, or begin earlier")
	}
}
