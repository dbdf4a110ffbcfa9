// What the page does: hear the machine's facts, show them, and never pass off old ones as live.
// All of it is text handed in by the server; nothing is ever read as markup.
import { draw } from "/curve.js";

const SILENT_MS = 3000; // the server speaks every second: own engineering value
const LOOK_MS = 250;
const COURSE_MS = 10000;
const RETRY_MS = 2000;
const CONFIRM_MS = 5000;

const $ = (id) => document.getElementById(id);
let facts = null;
let heardAt = [0, 0];
let visitor = { has_password: false, signed_in: false, form: "" };
let source = null;
let drawnChoices = "";
let spoken = "";
let stopArmedUntil = 0;
let courseOf = "";

// Two clocks: one stands still while a computer sleeps, the other may be set.
const clocks = () => [performance.now(), Date.now()];
const silentMs = () => Math.max(...clocks().map((now, i) => now - heardAt[i]));

function listen() {
  source = new EventSource("/live");
  source.onmessage = (event) => {
    facts = JSON.parse(event.data);
    heardAt = clocks();
    show();
  };
  source.onerror = () => {
    if (source.readyState === EventSource.CLOSED) setTimeout(listen, RETRY_MS);
  };
}

function current() {
  if (facts === null) return null;
  if (silentMs() <= SILENT_MS) return facts;
  return {
    ...facts, live: false, standing: "no-server", tone: "old", word: "Not live",
    sentence: "This page can't reach its server. What is shown is old. Look at the machine itself.",
  };
}

function ageText(s) {
  if (s < 120) return `${Math.round(s)} s old`;
  const minutes = Math.round(s / 60);
  return minutes < 60 ? `${minutes} min old` : `${Math.floor(minutes / 60)} h ${minutes % 60} min old`;
}

function freshness(now) {
  if (now.live) return "live";
  if (!now.known) return "not live";
  return now.age_s === null ? "of unknown age" : ageText(now.age_s + silentMs() / 1000);
}

// A number stays beside its unit.
const tied = (text) => text.replace(/ (?=°|%|min\b)/g, "\u00a0");

function put(id, given) {
  const element = $(id), text = tied(given);
  if (element.textContent !== text) element.textContent = text;
}

function part(id, isShown) {
  $(id).hidden = !isShown;
}

function show() {
  const now = current();
  if (now === null) return;
  document.body.dataset.tone = now.tone;
  document.body.dataset.live = now.live ? "yes" : "no";
  const fresh = freshness(now);
  put("fresh-text", fresh);
  put("fresh-sign", now.live ? "●" : "✕");
  headline(now, fresh);
  question(now);
  answers(now);
  wrong(now);
  phases(now);
  controls(now);
  document.title = now.live ? `${now.word} · ${/\d/.test(now.left) ? now.left : now.bowl}` : `${now.word} · ${fresh}`;
}

function headline(now, fresh) {
  const word = $("word");
  put("word", now.word);
  word.style.setProperty("--all", Math.max(5, now.word.length));
  word.style.setProperty("--longest", Math.max(5, ...now.word.split(" ").map((one) => one.length)));
  put("sentence", now.sentence);
  part("remark", now.live && now.remark !== "");
  put("remark", now.remark);
  part("age", !now.live && now.known);
  put("age", fresh);
  // Spoken is what changes rarely: a screen reader must not be told of every tenth of a degree.
  const changing = now.tone === "calm" || now.tone === "good";
  const said = `${now.word}.${changing ? "" : ` ${now.sentence}`}${now.live && now.remark ? ` ${now.remark}` : ""}`;
  if (said !== spoken) {
    spoken = said;
    put(now.tone === "alarm" ? "shouted" : "spoken", said);
    put(now.tone === "alarm" ? "spoken" : "shouted", "");
  }
}

function question(now) {
  const asked = now.known ? now.asked : null;
  part("question", asked !== null && asked.text !== now.sentence);
  put("question", asked === null ? "" : now.live ? asked.text : `It asked: ${asked.text}`);
  part("choices", asked !== null && now.live);
  part("hint", asked !== null);
  const key = JSON.stringify([asked, visitor.signed_in, now.live]);
  if (key === drawnChoices) return;
  drawnChoices = key;
  $("choices").replaceChildren(...(asked === null ? [] : asked.choices.map((one) => choice(one, asked, now))));
  put("hint", asked === null ? "" : hint(now));
}

function hint(now) {
  if (!now.live) return "This may have been answered meanwhile.";
  if (visitor.signed_in) return "";
  return visitor.has_password ? "Sign in below to answer here, or answer at the machine." : "Answer at the machine.";
}

function choice(one, asked, now) {
  const item = document.createElement("li");
  const may = visitor.signed_in && one.here;
  const shown = document.createElement(may ? "button" : "span");
  shown.textContent = one.label;
  if (may) {
    shown.type = "button";
    shown.disabled = !now.live;
    shown.addEventListener("click", () => ask("answer", one.word, asked.id));
  } else {
    shown.className = "word";
  }
  item.append(shown);
  if (one.heats && visitor.signed_in && !one.here) {
    const note = document.createElement("span");
    note.className = "note";
    note.textContent = "leads to heat: only at the machine";
    item.append(note);
  }
  return item;
}

const clock = (text) => new Date(text).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });

function answers(now) {
  part("answers", now.known);
  const keeps = now.left === "ready" ? now.keeps : null;
  const [early, at, late] = now.ready;
  const isForetold = at && /\d/.test(now.left);
  put("ask-left", keeps === null ? "How long still?" : "How long does it keep?");
  put("left", keeps === null ? now.left : keeps.likely);
  if (keeps !== null) put("ready", `${keeps.least} at least`);
  else put("ready", isForetold ? `about ${clock(at)}, between ${clock(early ?? at)} and ${clock(late ?? at)}` : "");
  put("bowl", now.bowl);
  const target = now.bowl_target === "-" ? "" : `meant to be ${now.bowl_target}`;
  put("warm-more", [target, `bath ${now.bath}`].filter(Boolean).join(", "));
  put("heat", now.live ? now.heat : "");
  const dip = now.dip;
  part("dip-part", dip !== null);
  if (dip === null) return;
  put("dip", dip.word);
  put("verdict", dip.verdict);
  put("why", dip.sentence === now.sentence ? "" : dip.sentence);
}

function wrong(now) {
  const isTold = now.alerts.length === 1 && now.sentence.includes(now.alerts[0].text);
  part("wrong-part", now.alerts.length > 0 && !isTold);
  const items = now.alerts.map((alert) => {
    const item = document.createElement("li");
    const cause = document.createElement("strong");
    cause.textContent = alert.cause.replaceAll("-", " ");
    item.append(cause, `: ${alert.text}`);
    return item;
  });
  const text = items.map((item) => item.textContent).join("\n");
  if ($("wrong").dataset.told !== text) {
    $("wrong").dataset.told = text;
    $("wrong").replaceChildren(...items);
  }
}

function phases(now) {
  const key = JSON.stringify([now.phases, now.phase]);
  if ($("phases").dataset.told !== key) {
    $("phases").dataset.told = key;
    $("phases").replaceChildren(...now.phases.map((phase) => {
      const item = document.createElement("li");
      item.textContent = phase;
      if (phase === now.phase) item.setAttribute("aria-current", "step");
      return item;
    }));
  }
  const going = now.elapsed === null ? "" : `, ${now.elapsed} since it began`;
  put("run", now.profile === null ? "" : `Profile ${now.profile}${going}`);
}

const GOES_ON = new Set(["running", "pausing", "paused", "resuming"]);

function controls(now) {
  part("sign-in", visitor.has_password && !visitor.signed_in);
  part("controls", visitor.signed_in);
  part("acknowledge", now.alerts.length > 0);
  part("pause", now.mode === "running");
  part("resume", now.mode === "paused" && now.resume_here);
  part("stop", GOES_ON.has(now.mode) || now.mode === "idle");
  for (const id of ["acknowledge", "pause", "resume", "stop"]) $(id).disabled = !now.live;
  put("stop", Date.now() < stopArmedUntil ? "Press again to stop" : "Stop the run");
}

async function send(path, body) {
  try {
    const answer = await fetch(path, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
    });
    const said = await answer.json().catch(() => ({ said: "The page's server refused." }));
    if (said.form !== undefined) visitor = said;
    else await who();
    put("said", said.said ?? "");
  } catch {
    put("said", "The page's server can't be reached.");
  }
  show();
}

async function ask(command, choice = "", askId = "") {
  put("said", "Asking the run…");
  await send("/ask", { form: await freshForm(), command, choice, ask: askId });
}

// A form counts once: a stop must not be refused because an answer is still on its way with it.
async function freshForm() {
  if (visitor.form === "") await who();
  const form = visitor.form;
  visitor.form = "";
  return form;
}

async function who() {
  try {
    visitor = await (await fetch("/who")).json();
  } catch {
    // Without its server the page says so by itself.
  }
}

async function course() {
  if (facts !== null && facts.known) {
    try {
      const data = await (await fetch("/samples")).json();
      part("course-part", data.minutes.length > 1);
      if (data.minutes.length > 1) draw($("course"), data);
    } catch {
      // The same.
    }
  }
}

function watchCourse() {
  const key = facts === null ? "" : `${facts.run} ${facts.phase}`;
  if (key !== courseOf) {
    courseOf = key;
    course();
  }
}

for (const id of ["acknowledge", "pause", "resume"]) $(id).addEventListener("click", () => ask(id));
$("stop").addEventListener("click", () => {
  if (Date.now() < stopArmedUntil) ask("stop");
  stopArmedUntil = Date.now() < stopArmedUntil ? 0 : Date.now() + CONFIRM_MS;
  show();
});
$("sign-out").addEventListener("click", async () => send("/sign-out", { form: await freshForm() }));
$("sign-in").addEventListener("submit", (event) => {
  event.preventDefault();
  send("/sign-in", { password: $("password").value });
  $("password").value = "";
});
addEventListener("resize", course);
document.addEventListener("visibilitychange", show);
addEventListener("pageshow", show);
setInterval(() => { show(); watchCourse(); }, LOOK_MS);
setInterval(course, COURSE_MS);
listen();
await who();
show();
