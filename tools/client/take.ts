// A program of somebody else: it takes the rear-end job of the demonstration from intake to hand-back on a server, and knows
// of the server nothing but what its description says (schema.d.ts is generated from that, and every call is checked against it).
import createClient from "openapi-fetch";
import { createHash, randomUUID } from "node:crypto";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { isMap, isSeq, parseDocument, stringify, type YAMLMap, type YAMLSeq } from "yaml";
import type { components, paths } from "./schema.js";

type Schemas = components["schemas"];
type Client = ReturnType<typeof createClient<paths>>;

interface Task {
  at: string; // address of the server
  files: string; // folder of the demonstration
  out: string; // folder for what was fetched
  on: string; // the day it is judged on
  secret: string; // of the link of first use
}

const task: Task = JSON.parse(readFileSync(0, "utf8"));
const client = (headers: Record<string, string>) => createClient<paths>({ baseUrl: task.at, headers });
const nobody = client({});

/** people makes the first administrator and three more, and has programs act for them; who approves does so in person. */
async function people(): Promise<Record<"administrator" | "planner" | "technician" | "reviewer", Client>> {
  const password = "seven quiet lathes turn";
  const session = (response: Response) => client({ Cookie: response.headers.getSetCookie().map((c) => c.split(";")[0]).join("; ") });
  const first = nobody.POST("/api/v1/first", { body: { secret: task.secret, shop: "north", shop_name: "North", name: "Ada", sign_in: "ada", password } });
  await had("first use", first);
  const ada = session((await first).response);
  const program = async (as: Client) => {
    const token = await had("a token", as.POST("/api/v1/tokens", { body: { name: "from intake to hand-back", days: 1 } }));
    return client({ Authorization: `Bearer ${token.secret}` });
  };
  const added = async (role: "planner" | "technician" | "reviewer") => {
    const person = await had(role, ada.POST("/api/v1/people", { body: { name: `Somebody, ${role}`, sign_in: role, roles: [role] } }));
    await had("a password", nobody.POST("/api/v1/password", { body: { secret: person.secret, password } }));
    const signedIn = nobody.POST("/api/v1/session", { body: { name: role, password } });
    if ((await had("signing in", signedIn)).need_code) throw new Error("a code is asked for");
    return session((await signedIn).response);
  };
  const all = { administrator: await program(ada), planner: await program(await added("planner")), technician: await program(await added("technician")), reviewer: await added("reviewer") };
  const known = await had("the people", ada.GET("/api/v1/people"));
  if (known.people?.length !== 4) throw new Error(`${known.people?.length} people`);
  return all;
}

const on = task.on;
const written = parseDocument(readFileSync(join(task.files, "rear-job", "job.yaml"), "utf8"));
const job = String(written.get("id"));
const path = { job };

/** had is the answer of a call; what was refused ends the program. */
async function had<T>(what: string, call: Promise<{ data?: T; error?: unknown; response: Response }>): Promise<T> {
  const { data, error, response } = await call;
  if (error !== undefined || !response.ok) throw new Error(`${what}: ${response.status} ${JSON.stringify(error)}`);
  return data as T;
}

/** refused is the problem with which a call is refused; one that is not ends the program. */
async function refused(what: string, status: number, code: string, call: Promise<{ error?: Schemas["Problem"]; response: Response }>): Promise<Schemas["Problem"]> {
  const { error, response } = await call;
  if (response.status !== status || error?.code !== code) throw new Error(`${what}: ${response.status} ${JSON.stringify(error)}; want ${status} ${code}`);
  return error;
}

const fresh = () => ({ "Idempotency-Key": randomUUID() });

/** list is the entries of a list of the job's file. */
function list(name: string): YAMLMap[] {
  const found = written.get(name);
  if (!isSeq(found)) throw new Error(`the job's file has no list ${name}`);
  return (found as YAMLSeq).items.filter(isMap);
}

const by1 = (entry: YAMLMap, field: string) => String(entry.get(field) ?? "");

let puts = 0;

/** put writes one record, and gives the number of its event. */
async function put(as: Client, name: string, record: unknown, seen = 0): Promise<number> {
  const text = typeof record === "string" ? record : stringify(record);
  const answer = await had(`${name} ${text}`, as.PUT("/api/v1/jobs/{job}/record", { params: { path, query: { name }, header: fresh() }, body: { text, seen } }));
  puts++;
  return answer.head.seq;
}

/** all puts the entries of a list on record, or those of a sort. */
async function all(as: Client, name: string, word: string, which: (entry: YAMLMap) => boolean = () => true): Promise<void> {
  for (const entry of list(name)) if (which(entry)) await put(as, word, entry);
}

/** folder is the files of a folder, by their names in it. */
function folder(name: string): Schemas["File"][] {
  const at = join(task.files, name);
  return readdirSync(at, { recursive: true, withFileTypes: true })
    .filter((f) => f.isFile())
    .map((f) => join(f.parentPath, f.name))
    .map((f) => ({ name: f.slice(at.length + 1), data: readFileSync(f).toString("base64") }));
}

/** begin loads body and shop and opens the job. */
async function begin(): Promise<void> {
  const body = await had("the body", planner.POST("/api/v1/library", { body: { files: folder("rear-body") } }));
  const shopFile = { name: "shop.yaml", data: readFileSync(join(task.files, "shop.yaml")).toString("base64") };
  await refused("rates of a planner", 403, "right.role", planner.POST("/api/v1/library", { body: { files: [shopFile] } }));
  const shop = await had("the shop", administrator.POST("/api/v1/library", { body: { files: [shopFile] } }));
  const plain = written.toJS() as Record<string, unknown>;
  const opening = {
    format: plain.format, id: job, invented: true, body: `sha256:${body.hash}`, shop: `sha256:${shop.hash}`,
    opened: plain.opened, start: plain.start, author: plain.author,
  };
  await had("the job", planner.PUT("/api/v1/jobs/{job}", {
    params: { path, header: fresh() },
    body: { events: [{ kind: "job-opened", seen: 0, data: opening }, { kind: "vehicle-recorded", seen: 0, data: plainOf(plain.vehicle) }] },
  }));
  await put(technician, "impact", written.get("impact"));
}

/** plainOf is a value with yes and no as JSON has them. */
function plainOf(v: unknown): unknown {
  return JSON.parse(JSON.stringify(v));
}

/** upload sends a paper in pieces, and gives the name of its record. */
async function upload(entry: YAMLMap): Promise<string> {
  const data = readFileSync(join(task.files, "rear-job", by1(entry, "file")));
  const hash = (of: Buffer) => createHash("sha256").update(of).digest("hex");
  const announced = { name: by1(entry, "file").split("/").pop()!, sha256: hash(data), size: data.length, text: by1(entry, "text"), by: by1(entry, "by"), on: by1(entry, "on") };
  const sent = await had("an upload", technician.POST("/api/v1/jobs/{job}/uploads", { params: { path, header: fresh() }, body: announced }));
  const of = { job, upload: sent.id };
  for (let offset = 0; offset < data.length; ) {
    const piece = data.subarray(offset, offset + 500);
    const state = await had("a piece", technician.PUT("/api/v1/jobs/{job}/uploads/{upload}/piece", {
      params: { path: of, query: { offset, sha256: hash(piece) } }, headers: { "Content-Type": "application/octet-stream" },
      body: piece as unknown as string, bodySerializer: (b: unknown) => b as Buffer,
    }));
    offset = state.have;
  }
  const sealed = await had("the seal", technician.POST("/api/v1/jobs/{job}/uploads/{upload}/seal", { params: { path: of } }));
  return sealed.recorded;
}

/** readings puts the readings of a set-up on record, from the table that the arm wrote. */
async function readings(setup: string): Promise<void> {
  const [head, ...rows] = readFileSync(join(task.files, "rear-job", "readings.csv"), "utf8").trim().split("\n").map((l) => l.split(","));
  const of = rows.filter((r) => r[0] === setup).map((r) => Object.fromEntries(head!.map((h, i) => [h, r[i]!] as const).filter(([, v]) => v !== "")
    .map(([h, v]) => [h, h.includes("_mm") ? Number(v) : v])));
  await put(technician, `readings/${setup}`, { setup, readings: of });
}

const until = (last: string) => (e: YAMLMap) => by1(e, "on") <= last;
const after = (last: string) => (e: YAMLMap) => by1(e, "on") > last;
const before = until("2026-11-13"); // the repair begins on the 16th

/** intake records what was found. */
async function intake(): Promise<void> {
  await all(technician, "hazards", "hazard");
  await all(technician, "setups", "setup", (e) => by1(e, "stage") === "before");
  await readings("A");
  await readings("TRAM");
  const sheet = await upload(list("evidence")[0]!);
  if (sheet !== "evidence/E1") throw new Error(`the sheet is on record as ${sheet}`);
  await all(technician, "inspections", "inspection", before);
  for (const finding of list("findings")) {
    const name = `finding/${by1(finding, "id")}`;
    if (name !== "finding/D1") {
      await put(technician, name, finding);
      continue;
    }
    const wrong = stringify(finding).replaceAll("27 mm", "72 mm"); // a slip, put right by somebody who has seen it
    const seen = await put(technician, name, wrong);
    const problem = await refused("a slip that was not seen", 409, "conflict.written-since",
      technician.PUT("/api/v1/jobs/{job}/record", { params: { path, query: { name }, header: fresh() }, body: { text: stringify(finding), seen: 0 } }));
    if (problem.clashes?.[0]?.record !== name) throw new Error(`no clash about ${name}: ${JSON.stringify(problem)}`);
    await put(technician, name, finding, seen);
    const kept = await had("the finding", technician.GET("/api/v1/jobs/{job}/record", { params: { path, query: { name } } }));
    if (kept.seen <= seen || kept.text.includes("72 mm")) throw new Error(`the slip stays: ${kept.text}`);
  }
  await all(technician, "areas", "area");
  await all(technician, "castings", "casting");
  await all(technician, "procedure_checks", "procedure-check");
}

/** ask asks the manufacturer about the finding that nothing decides, and files the answer. */
async function ask(): Promise<void> {
  const asked = list("questions")[0]!, answered = list("answers")[0]!;
  const finding = by1(asked, "finding");
  const day = by1(asked, "on");
  const open = await had("what is open", technician.GET("/api/v1/jobs/{job}/decisions", { params: { path, query: { on: day } } }));
  const about = open.questions?.find((q) => q.finding === finding);
  if (!about) throw new Error(`nothing is to be asked about ${finding}: ${JSON.stringify(open.questions)}`);
  const question = await had("the question", planner.GET("/api/v1/jobs/{job}/question", { params: { path, query: { about: finding, on: day } } }));
  if (question.state !== "to be sent" || question.files?.length === 0) throw new Error(`the question is ${question.state}`);
  await had("it is sent", planner.POST("/api/v1/jobs/{job}/questions", { params: { path, query: { on: day }, header: fresh() }, body: { about: finding, by: by1(asked, "by").replace("planner ", "") } }));
  await had("the answer", planner.POST("/api/v1/jobs/{job}/answers", {
    params: { path, query: { on: by1(answered, "on") }, header: fresh() },
    body: {
      question: question.id, vin: by1(answered, "vin"), allow: (answered.toJSON() as { allow: string[] }).allow, conditions: by1(answered, "conditions"), by: by1(answered, "by"),
      dated: by1(answered, "on"), expires: by1(answered, "expires"), recordedBy: by1(answered, "recorded_by"),
      document: { name: "answer-d3.txt", data: readFileSync(join(task.files, "rear-job", "evidence", "answer-d3.txt")).toString("base64") },
    },
  }));
}

/** choose reads verdicts and routes, takes the best that is allowed, and has somebody else approve it. */
async function choose(): Promise<void> {
  const choice = list("choices")[0]!;
  const day = by1(choice, "on");
  const decisions = await had("the verdicts", planner.GET("/api/v1/jobs/{job}/decisions", { params: { path, query: { on: day } } }));
  for (const accepted of list("accepted")) {
    const of = decisions.findings?.find((f) => f.id === by1(accepted, "finding"));
    const option = of?.options?.find((o) => o.kind === by1(accepted, "treatment"));
    if (option?.verdict !== "allowed") throw new Error(`${by1(accepted, "finding")} ${by1(accepted, "treatment")}: ${option?.verdict}`);
  }
  const routes = await had("the routes", planner.GET("/api/v1/jobs/{job}/routes", { params: { path, query: { on: day } } }));
  if (!routes.routes?.some((r) => r.id === by1(choice, "route"))) throw new Error(`no route ${by1(choice, "route")}`);
  await refused("a choice of a technician", 403, "right.limited", technician.PUT("/api/v1/jobs/{job}/record", { params: { path, query: { name: "choice" }, header: fresh() }, body: { text: stringify(choice), seen: 0 } }));
  await put(planner, "choice", choice);
  await all(planner, "accepted", "acceptance");
  const reviewed = list("reviews")[0]!;
  await had("what is sent to review", planner.POST("/api/v1/jobs/{job}/review/send", { params: { path, header: fresh() }, body: { part: "whole", by: by1(choice, "by"), on: day } }));
  const stands = await had("how far it is", reviewer.GET("/api/v1/jobs/{job}/review", { params: { path } }));
  if (stands.stage !== "in review") throw new Error(`it is ${stands.stage}`);
  const approval = () => ({ params: { path, header: fresh() }, body: { seen: stands.head.hash, by: by1(reviewed, "by"), on: by1(reviewed, "on") } });
  await refused("an approval of a planner", 403, "right.role", planner.POST("/api/v1/jobs/{job}/review/approve", approval()));
  await had("the approval", reviewer.POST("/api/v1/jobs/{job}/review/approve", approval()));
}

/** repair records the work, what was read, inspected and delivered. */
async function repair(): Promise<void> {
  const plan = await had("the plan", planner.GET("/api/v1/jobs/{job}/plan", { params: { path, query: { on: "2026-11-13" } } }));
  if (!plan.route) throw new Error("no plan");
  await all(technician, "fault_readings", "fault-reading", (e) => by1(e, "stage") === "before");
  await all(technician, "inspections", "inspection", (e) => !before(e));
  await all(technician, "deliveries", "delivery");
  await all(technician, "setups", "setup", (e) => by1(e, "stage") === "after");
  await readings("B");
  await all(technician, "actuals", "work");
  await all(technician, "figures", "figure");
  await all(technician, "records", "record");
  const missing = await had("what is missing", technician.GET("/api/v1/jobs/{job}/release", { params: { path, query: { on } } }));
  if (missing.missing?.length !== 1) throw new Error(`missing is ${JSON.stringify(missing.missing)}; want the last reading of the fault memories alone`);
  await all(technician, "fault_readings", "fault-reading", (e) => by1(e, "stage") === "after");
}

/** handBack hands the vehicle back, which nobody does by a program, or without being asked who they are. */
async function handBack(): Promise<void> {
  const given = () => ({ params: { path, query: { on }, header: fresh() }, body: { to: "owner" as const, by: "T3" } });
  await refused("a hand-back by a planner", 403, "right.role", planner.POST("/api/v1/jobs/{job}/hand-back", given()));
  await had("the hand-back", reviewer.POST("/api/v1/jobs/{job}/hand-back", given()));
}

/** fetch keeps what is handed over with the vehicle. */
async function fetchAll(): Promise<void> {
  const gate = await had("the gate", reviewer.GET("/api/v1/jobs/{job}/release", { params: { path, query: { on } } }));
  if (gate.missing?.length !== 0 && gate.missing !== null || gate.route !== "weld") throw new Error(`something is missing: ${JSON.stringify(gate)}`);
  const text = { params: { path, query: { on } }, parseAs: "text" as const };
  const keep = async (name: string, call: Promise<{ data?: unknown; error?: unknown; response: Response }>) => writeFileSync(join(task.out, name), (await had(name, call)) as string);
  await keep("assessment.json", planner.GET("/api/v1/jobs/{job}/assessment", text));
  await keep("report.html", planner.GET("/api/v1/jobs/{job}/report", text));
  await keep("owner.html", planner.GET("/api/v1/jobs/{job}/owner", text));
  await keep("sheets.html", planner.GET("/api/v1/jobs/{job}/sheets", text));
  const events = await had("the events", planner.GET("/api/v1/jobs/{job}/events", { params: { path } }));
  const checked = await had("the check", planner.GET("/api/v1/jobs/{job}/check", { params: { path, query: { on } } }));
  if (!checked.documents?.length) throw new Error("nothing was checked");
  for (const e of list("evidence")) {
    const bytes = await had("a paper", planner.GET("/api/v1/bytes/{hash}", { params: { path: { hash: by1(e, "sha256") } }, parseAs: "arrayBuffer" }));
    if (!readFileSync(join(task.files, "rear-job", by1(e, "file"))).equals(Buffer.from(bytes as unknown as ArrayBuffer))) throw new Error("a paper is another");
  }
  console.log(JSON.stringify({ job, puts, events: events.head.seq, route: gate.route }));
}

const { administrator, planner, technician, reviewer } = await people();
await refused("who shows nothing", 401, "signed-out", nobody.GET("/api/v1/jobs/{job}", { params: { path } }));
await begin();
await intake();
await ask();
await choose();
await repair();
await handBack();
await fetchAll();
