package web

// Way is a route beside those that package api makes, as it is described with them: the ways in, people, tokens and shops.
type Way struct {
	Method, Path, ID, Group, Says string
	Anybody                       bool // nobody need be signed in
	Takes, Gives                  any  // a value of what is sent and answered; nil: nothing is
	Status                        int
	Refuses                       []int // beside 400 and, where somebody is to be signed in, 401
	Query                         map[string]string
	Tagged                        bool // its answer has a tag
	Match                         bool // it takes such a tag, and changes nothing that is not of it any more
}
