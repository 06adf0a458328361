module fettle

go 1.26.0

require (
	github.com/alecthomas/kong v1.17.0
	github.com/goccy/go-yaml v1.19.2
	github.com/rogpeppe/go-internal v1.16.0
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3
	golang.org/x/term v0.48.0
	golang.org/x/tools v0.52.0
	gonum.org/v1/gonum v0.17.0
)

require (
	golang.org/x/mod v0.42.0 // indirect
	golang.org/x/sync v0.24.0 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/text v0.23.0 // indirect
)
