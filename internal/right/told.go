package right

import (
	"strings"

	"fettle/internal/diag"
)

// Code is a stable name of why something is refused.
type Code string

// Codes of refusals; with a condition that does not hold it is "right." and the words of that.
const (
	CodeRole   Code = "right.role"   // no role of theirs may
	CodeHidden Code = "right.hidden" // for the log alone: nobody is told
)

// Code is why, by a stable name; empty where it is allowed.
func (v Verdict) Code() Code {
	switch {
	case v.Answer == Allowed:
		return ""
	case v.Answer == Hidden:
		return CodeHidden
	case len(v.Lacks) > 0:
		return codeOf(v.Lacks[0])
	}
	return CodeRole
}

func codeOf(c Condition) Code { return Code("right." + strings.ReplaceAll(string(c), " ", "-")) }

// Codes is every code of a refusal with its sentence.
func Codes() map[Code]string {
	out := map[Code]string{CodeRole: noRole, CodeHidden: "there is no such thing, as far as this person may know"}
	for _, c := range Conditions() {
		out[codeOf(c)] = lacking[c]
	}
	return out
}

const noRole = "none of the roles one has here may do it"

// Err is nothing where it is allowed; hidden, where nobody may be told whether the thing is there: the same error as
// for one that is not; else what is lacking.
func (v Verdict) Err(a Act, subject string, hidden error) error {
	switch v.Answer {
	case Allowed:
		return nil
	case Hidden:
		return hidden
	}
	msg := noRole
	if len(v.Lacks) > 0 {
		var all []string
		for _, c := range v.Lacks {
			all = append(all, lacking[c])
		}
		msg = strings.Join(all, "; ")
	}
	return &diag.Error{Kind: diag.Denied, Op: string(a), Subject: subject, Msg: "one may not " + string(a) + ": " + msg, Hint: "ask an administrator who may"}
}
