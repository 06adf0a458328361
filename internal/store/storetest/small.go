package storetest

import (
	"embed"
	"io/fs"

	"fettle/internal/body"
	"fettle/internal/job"
)

//go:embed small
var small embed.FS

// SmallBody is the files of the body that jobs of the suite name.
func SmallBody() map[string][]byte { return filesBelow("small/body") }

// SmallShop is the file of the shop that they name.
func SmallShop() map[string][]byte { return filesBelow("small/shop") }

// names of both in a job.
var (
	smallBody = job.HashName(body.Hash(SmallBody()))
	smallShop = job.HashName(body.Hash(SmallShop()))
)

func filesBelow(dir string) map[string][]byte {
	out := map[string][]byte{}
	entries, err := small.ReadDir(dir)
	for _, e := range entries {
		if err == nil {
			out[e.Name()], err = fs.ReadFile(small, dir+"/"+e.Name())
		}
	}
	if err != nil {
		panic(err) // it is part of the program
	}
	return out
}
