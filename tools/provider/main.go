// Command provider is the example server of a library of others, a provider of OpenID Connect that is certified, on this machine
// alone: the check of sign-in has it as a program of its own. PORT is where it listens, REDIRECT_URI where it sends people back.
package main

import (
	"io"
	"log"
	"log/slog"
	"net"
	"net/http"
	"os"
	"time"

	"github.com/zitadel/oidc/v3/example/server/exampleop"
	"github.com/zitadel/oidc/v3/example/server/storage"
)

func main() {
	port := os.Getenv("PORT")
	issuer := "http://localhost:" + port + "/"
	storage.RegisterClients(storage.WebClient("web", "secret", os.Getenv("REDIRECT_URI")))
	people := storage.NewStorage(storage.NewUserStore(issuer))
	server := &http.Server{
		Addr: net.JoinHostPort("127.0.0.1", port), ReadHeaderTimeout: 5 * time.Second,
		Handler: exampleop.SetupServer(issuer, people, slog.New(slog.NewTextHandler(io.Discard, nil)), false),
	}
	log.Fatal(server.ListenAndServe())
}
