"use strict";
// Sends what was entered with the secret of the address, which stands behind the # and so reached no server yet.
const form = document.getElementById("entry"), told = document.getElementById("told");
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const body = { secret: location.hash.slice(1) };
  for (const [name, value] of new FormData(form)) body[name] = value;
  if ("again" in body) {
    if (body.again !== body.password) {
      told.textContent = "The two passwords differ.";
      return;
    }
    delete body.again;
  }
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const answer = await fetch(form.dataset.to, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    if (answer.ok) {
      history.replaceState(null, "", location.pathname);
      form.hidden = true;
      told.textContent = form.dataset.done;
      return;
    }
    const problem = await answer.json();
    told.textContent = [problem.detail, problem.hint].filter(Boolean).join("; ");
  } catch {
    told.textContent = "The server does not answer; try again.";
  }
  button.disabled = false;
});
