"use strict";
// Sends the secret of the address, which stands behind the # and so reached no server yet, and shows what it opens.
const form = document.getElementById("open"), told = document.getElementById("told"), parts = document.getElementById("parts"), shown = document.getElementById("shown");
const secret = location.hash.slice(1);
if (!secret) told.textContent = "The address is not whole: what stands behind the # is missing.";

function show(opened) {
  const base = form.dataset.prefix + "/jobs/" + encodeURIComponent(opened.job) + "/revisions/" + opened.event + "/";
  for (const a of parts.querySelectorAll("a")) {
    a.href = base + a.dataset.part;
    if (a.dataset.part === "files") a.hidden = !opened.files;
    a.addEventListener("click", () => mark(a));
  }
  const first = parts.querySelector("a");
  mark(first);
  form.hidden = true;
  parts.hidden = shown.hidden = false;
  shown.src = first.href;
  told.textContent = "As of " + opened.day + ". You have until " + new Date(opened.ends).toLocaleTimeString() + "; the link can be opened again.";
  announce(base);
}

function mark(a) {
  for (const other of parts.querySelectorAll("a")) other.removeAttribute("aria-current");
  if (a.dataset.part !== "files") a.setAttribute("aria-current", "page");
}

async function announce(base) {
  const answer = await fetch(base + "proof");
  if (!answer.ok) return;
  const proof = await answer.json();
  if (proof.newer) told.textContent += " The job has gone on since; ask the shop for a link to how it stands now.";
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const answer = await fetch(form.dataset.prefix + "/link", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ secret, code: form.elements.code.value }) });
    const body = await answer.json();
    if (answer.ok) return show(body);
    told.textContent = [body.detail, body.hint].filter(Boolean).join("; ");
  } catch {
    told.textContent = "The server does not answer; try again.";
  } finally {
    button.disabled = false;
  }
});
