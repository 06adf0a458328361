package cli

import (
	"strings"

	"github.com/alecthomas/kong"

	"fettle/internal/diag"
)

// class is on what a command works.
type class struct {
	files   bool   // on files alone, whatever data folder or server is named
	instead string // it is not for a server: what to do
}

var (
	onFiles = class{files: true}
	onPlace = class{} // on jobs in folders, in a data folder or on a server
)

// atHome is a command that works on a data folder where that is.
func atHome(instead string) class { return class{instead: instead} }

// itself are words for what is done on the machine that has the data folder.
func itself(command string) string {
	return "on the machine of the server: fettle " + command + " --data DIR"
}

// classes says of every command on what it works, by its name.
var classes = map[string]class{
	"may": onFiles, "mesh": onFiles, "trace": onFiles, "cut": onFiles, "body new": onFiles, "zones find": onFiles, "zones make": onFiles,
	"schema": onFiles, "version": onFiles, "measure": onFiles, "procedure table": onFiles,

	"check": onPlace, "assess": onPlace, "routes": onPlace, "plan": onPlace, "expose": onPlace, "week": onPlace, "history": onPlace, "explain": onPlace, "lengths": onPlace,
	"ask": onPlace, "answer": onPlace, "record": onPlace, "keep": onPlace, "give": onPlace, "jobs": onPlace, "events": onPlace, "show": onPlace, "put": onPlace,
	"withdraw": onPlace, "procedure diff": onPlace, "procedure replay": onPlace, "release": onPlace, "recompute": onPlace, "checkpoint": onPlace, "hold": onPlace,
	"tasks list": onPlace, "tasks ask": onPlace, "tasks stop": onPlace, "tasks again": onPlace, "tasks fetch": onPlace,

	"demo":  atHome("'fettle demo --serve' serves the invented jobs; 'fettle demo --data DIR' takes them into a data folder"),
	"erase": atHome("an erasure on a server is carried out by a person who has just proved who that is, never by a program with a token: sign in there"),

	"work":         atHome("the server does the work that is asked for by itself: 'fettle tasks' lists it"),
	"sweep":        atHome("have the server do it: fettle tasks ask sweep"),
	"verify-store": atHome("have the server do it: fettle tasks ask verify; or " + itself("verify-store")),
	"backup":       atHome(itself("backup PLACE")),
	"restore":      atHome(itself("restore BACKUP")),
	"doctor":       atHome(itself("doctor")),
	"serve":        atHome("give --data DIR"),
	"handed-back":  atHome("'fettle release JOB' says whether a vehicle was handed back; how long jobs are kept is noted " + itself("handed-back")),

	"people list": atHome("administrators do it on the pages of the server; or " + itself("people")), "people first": atHome(itself("people first")),
	"people link": atHome(itself("people link NAME")), "people disable": atHome(itself("people disable NAME")), "people enable": atHome(itself("people enable NAME")),
	"people roles": atHome(itself("people roles NAME SHOP ROLE")), "people renew-key": atHome(itself("people renew-key")),
}

// nameOf is a command as a person writes it, without the name of the program.
func nameOf(n *kong.Node) string {
	var words []string
	for ; n != nil && n.Type == kong.CommandNode; n = n.Parent {
		words = append([]string{n.Name}, words...)
	}
	return strings.Join(words, " ")
}

// classOf is on what a command works; one of which nobody has said that is an error.
func classOf(name string) (class, error) {
	c, is := classes[name]
	if !is {
		return c, &diag.Error{Kind: diag.Internal, Op: "fettle", Subject: "fettle " + name, Msg: "nobody has said on what it works"}
	}
	return c, nil
}

// refused is the error for a command that is not for servers; nil: it is.
func (c class) refused(name string) error {
	if c.instead == "" {
		return nil
	}
	return &diag.Error{Kind: diag.Usage, Op: name, Subject: "fettle " + name, Msg: "works on a data folder and not on a server", Hint: c.instead}
}
