package broken

import (
	"fmt"
	"reflect"
	"slices"
)

// input is one way to break a field.
type input struct {
	why     string
	inPlace bool // another text stands in the place of the value or in it
	plant   func(p place) (undo func(), want func(*writer) span)
}

// instead puts a node in the place of a value; within leads to that from the field, by places
// in lists.
func instead(why string, by *node, within ...int) input {
	return input{why, true, func(p place) (func(), func(*writer) span) {
		in, i := p.parent, p.index
		for _, k := range within {
			in, i = in.nodes[i], k
		}
		was := in.nodes[i]
		in.nodes[i] = by
		return func() { in.nodes[i] = was }, func(w *writer) span {
			if by.text == "" && by.sort == single && in.sort == group {
				return w.keys[in][i] // nothing stands where its name stands
			}
			if in.vector {
				return w.at[in] // its numbers are one value
			}
			return w.at[by]
		}
	}}
}

// entry adds a field beside the field, or in the group that it is.
func entry(why, key string, inside bool) input {
	return input{why, false, func(p place) (func(), func(*writer) span) {
		in, added := p.parent, p.parent.nodes[p.index]
		if inside {
			in, added = added, raw("1")
		}
		keys, nodes := in.keys, in.nodes
		in.keys, in.nodes = append(slices.Clone(keys), key), append(slices.Clone(nodes), added)
		last := len(nodes)
		return func() { in.keys, in.nodes = keys, nodes }, func(w *writer) span {
			at := w.keys[in][last]
			at.loose = inside // told at the name or at what is said of it
			return at
		}
	}}
}

// without leaves the field out.
func without() input {
	return input{"left out", false, func(p place) (func(), func(*writer) span) {
		keys, nodes := p.parent.keys, p.parent.nodes
		p.parent.keys = slices.Delete(slices.Clone(keys), p.index, p.index+1)
		p.parent.nodes = slices.Delete(slices.Clone(nodes), p.index, p.index+1)
		return func() { p.parent.keys, p.parent.nodes = keys, nodes }, func(w *writer) span {
			at := w.at[p.parent]
			return span{at.line, at.col, at.line, false}
		}
	}}
}

// inputs are all ways to break a field that has a sound value.
func (w *walk) inputs(f field, sound *node) []input {
	out := []input{instead("nothing", raw("")), entry("given twice", f.name, false), entry("misspelt", f.name+"x", false)}
	if f.required {
		out = append(out, without())
	}
	for _, text := range w.More[f.path()] {
		out = append(out, instead(text, raw(text)))
	}
	return append(out, w.shaped(f, f.typ, sound)...)
}

// shaped are ways to break a value by its type; within leads to it from the field.
func (w *walk) shaped(f field, t reflect.Type, sound *node, within ...int) []input {
	put := func(why, text string) input {
		if len(within) > 0 {
			why += " in the list"
		}
		return instead(why, raw(text), within...)
	}
	switch t = bare(t); {
	case scalar(t):
		out := []input{put("a list", "[1, 2]"), put("a group", "{a: 1}")}
		kind := w.Fields[f.path()]
		if kind == 0 {
			kind = w.Kinds[t]
		}
		if _, said := w.Fields[f.path()]; identities[f.name] && len(within) == 0 && !said {
			kind = Name
		}
		found := values(t, f.words, kind)
		if found == nil {
			w.t.Errorf("%s: nobody knows what is broken of %s", f.path(), t)
		}
		if f.required && len(within) == 0 && t.Kind() == reflect.String && f.words == nil && kind != Name {
			found = append(found, value{"an empty text", `""`})
		}
		for _, v := range found {
			out = append(out, put(v.why, v.text))
		}
		return out
	case t.Kind() == reflect.Map:
		out := []input{put("a text", "x"), put("a list", "[1]"), put("a list in a list", "[[a]]"), put("a condition that is none", "{nothing-of-these: 1}"), put("nothing in it", "{nothing-of-these: }"), put("a group in it", "{nothing-of-these: {a: 1}}")}
		return append(out, entry("an unknown name", "nothing-of-these", true))
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
		return w.listed(f, t, sound, within)
	}
	return []input{put("a text", "x"), put("a number", "12"), put("a list", "[1]"), put("an unknown field", "{nothing-of-these: 1}"), put("a list of groups", "[{a: 1}]")}
}

// listed are ways to break a list.
func (w *walk) listed(f field, t reflect.Type, sound *node, within []int) []input {
	out := []input{instead("a text in place of the list", raw("x"), within...), instead("a group in place of the list", raw("{a: 1}"), within...)}
	n := len(sound.nodes)
	if t.Kind() == reflect.Array {
		sound.vector = true
		short, long := copied(sound), copied(sound)
		short.nodes, long.nodes = short.nodes[:n-1], append(long.nodes, raw("0"))
		out = append(out, instead("one too few", short, within...), instead("one too many", long, within...))
		for _, x := range []*node{short, long} {
			x.sort = list
		}
	}
	if n == 0 {
		return out
	}
	if t.Kind() == reflect.Slice {
		out = append(out, doubled(sound, within))
		if f.required && len(within) == 0 {
			out = append(out, instead("an empty list", raw("[]")))
		}
	}
	first := append(slices.Clone(within), 0)
	out = append(out, instead("nothing in the list", raw("~"), first...))
	return append(out, w.shaped(f, t.Elem(), sound.nodes[0], first...)...)
}

// doubled repeats the last of a list.
func doubled(sound *node, within []int) input {
	again := copied(sound.nodes[len(sound.nodes)-1])
	more := &node{sort: list, nodes: append(slices.Clone(sound.nodes), again)}
	in := instead(fmt.Sprintf("the last %stwice", map[bool]string{true: "in the list "}[len(within) > 0]), more, within...)
	plant := in.plant
	in.plant = func(p place) (func(), func(*writer) span) {
		undo, _ := plant(p)
		return undo, func(w *writer) span { return w.at[more] } // told at either of the two
	}
	return in
}
