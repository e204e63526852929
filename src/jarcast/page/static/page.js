// The page made smooth: a pad for wet hands, taps that wait for the network, two devices in step.
// Without it every form still posts and the page answers; nothing here decides anything.
"use strict";

const QUEUE = "jarcast-waiting", POLL_MS = 2000, RETRY_MS = 5000;
const line = document.getElementById("line");
let sending = false, etag = "", lost = false, pressed = false, tapped = 0;

const key = () => Array.from(crypto.getRandomValues(new Uint8Array(16)),
  (byte) => byte.toString(16).padStart(2, "0")).join("");
const token = () => document.querySelector("meta[name=form-token]").content;

function queue() {
  try { return JSON.parse(localStorage.getItem(QUEUE)) || []; } catch { return []; }
}
function keep(list) {
  localStorage.setItem(QUEUE, JSON.stringify(list));
  tellLine();
}

function tellLine() {
  const list = queue(), refused = list.filter((one) => one.why);
  const waiting = list.length - refused.length, first = !line.hasChildNodes();
  line.replaceChildren();
  if (waiting && lost) line.append(`No connection. Waiting to be sent: ${waiting}.`);
  else if (lost) line.append("No connection. What you tap is kept, and sent when it is back.");
  for (const one of refused) {
    const words = document.createElement("p"), drop = document.createElement("button");
    words.textContent = `Not taken: ${one.what}. ${one.why}`;
    drop.textContent = "Take it off the list";
    drop.className = "plain";
    drop.addEventListener("click", () => keep(queue().filter((other) => other.key !== one.key)));
    line.append(words, drop);
  }
  if (first) line.classList.toggle("low", tapped < innerHeight / 2);  // never over what is tapped
}

function tapsTop() {
  const taps = document.querySelector("[data-tap]"), box = taps && taps.getBoundingClientRect();
  return box && box.bottom > 0 && box.top < innerHeight ? box.top : null;
}

function show(html, url) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const main = page.querySelector("main");
  if (!main) return;
  const focused = document.activeElement && document.activeElement.value;
  const same = location.pathname === new URL(url, location.href).pathname;
  const stood = same ? tapsTop() : null;
  document.querySelector("main").replaceWith(main);
  document.querySelector("header").replaceWith(page.querySelector("header"));
  document.title = page.title;
  if (url && !same) { history.pushState(null, "", url); scrollTo(0, 0); }
  const stands = tapsTop();  // the next tap on this place is on the same jar, whatever came above
  if (stood !== null && stands !== null) scrollBy({top: stands - stood, behavior: "instant"});
  const why = main.querySelector("#why");
  const tap = same && focused && main.querySelector(`[data-tap] button[value="${CSS.escape(focused)}"]`);
  if (why) { why.tabIndex = -1; why.focus({preventScroll: true}); why.scrollIntoView({block: "start"}); }
  else if (tap) tap.focus();
  else if (!same) { main.tabIndex = -1; main.focus({preventScroll: true}); }
  ready();
}

function post(one) {
  const body = new URLSearchParams(one.body);
  body.set("token", token());
  body.set("key", one.key);
  return fetch(one.url, {method: "POST", body});
}

// Sends what waits, in order. One that is refused stays, with its reason, and the next one goes.
async function flush() {
  if (sending) return;
  sending = true;
  try {
    for (let one; (one = queue().find((other) => !other.why));) {
      const answer = await post(one);
      lost = false;
      const html = await answer.text();
      if (answer.status === 401) { location.assign("/pair"); return; }
      const rest = queue().filter((other) => other.key !== one.key);
      if (answer.ok) {
        keep(rest);
        if (!rest.some((other) => !other.why) && (one.here || answer.redirected)) show(html, answer.url);
      } else if (answer.status >= 500) {
        lost = true;
        return;
      } else if (one.here && one.key === newestKey) {
        keep(rest);
        show(html, location.href);
      } else {
        const why = new DOMParser().parseFromString(html, "text/html").querySelector("#why");
        keep(queue().map((other) => other.key === one.key
          ? {...other, why: why ? why.textContent : "It was refused."} : other));
      }
    }
  } catch {
    lost = true;  // what waited is no answer to the last tap any more: it is told on the line
    keep(queue().map((one) => ({...one, here: false})));
  } finally { sending = false; tellLine(); }
}

let newestKey = "";
function submitted(event) {
  const form = event.target;
  if (form.method !== "post" || form.id === "pair" || form.action.includes("/devices")) return;
  event.preventDefault();
  const body = new FormData(form, event.submitter);
  const said = Array.from(body.entries()).filter(([name]) => !["token", "key"].includes(name));
  const words = (event.submitter || form).textContent.trim().replace(/\s+/g, " ");
  const typed = Array.from(form.querySelectorAll("input[type=text]"), (one) => one.value).join(" ");
  const one = {url: form.getAttribute("action"), body: said, key: key(), here: true,
    what: `${words} ${typed}`.trim()};
  newestKey = one.key;
  if (!form.hasAttribute("data-tap") && event.submitter) event.submitter.disabled = true;
  if (navigator.vibrate) navigator.vibrate(20);
  keep([...queue(), one]);
  flush();
}

async function inStep() {
  if (document.hidden) return;
  if (queue().some((one) => !one.why)) { flush(); return; }
  try {
    const answer = await fetch("/state", {headers: etag ? {"If-None-Match": etag} : {}});
    lost = false;
    tellLine();
    if (answer.status === 401 && location.pathname !== "/pair") location.assign("/pair");
    if (answer.status !== 200) return;
    etag = answer.headers.get("ETag") || "";
    const known = await answer.text();
    const main = document.querySelector("main");
    const field = document.activeElement && document.activeElement.matches("input, select");
    const typing = field || main.querySelector("form input[data-touched]");
    const shown = main.dataset.newest;
    if (shown === "0" || shown === known || typing || location.pathname === "/forecast") return;
    const page = await fetch(location.href), html = await page.text();
    if (page.ok && !pressed && !sending) show(html, location.href);  // never under a finger
    else etag = "";
  } catch { lost = true; tellLine(); }
}

const UNITS = {
  us: {weight: ["lb", "oz", "kg", "g"], volume: ["cups", "qt", "l", "ml"], salt: ["cup", "tbsp", "g", "oz"], hours: []},
  metric: {weight: ["kg", "g", "lb", "oz"], volume: ["l", "ml", "cups", "qt"], salt: ["g", "kg", "cup", "tbsp"], hours: []},
};

function pad(input) {
  const units = UNITS[input.dataset.units === "metric" ? "metric" : "us"][input.dataset.kind];
  if (!units || input.nextElementSibling?.classList.contains("pad")) return;
  const box = document.createElement("div");
  box.className = "pad";
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", "Pad");
  const bowls = input.dataset.kind === "weight" ? ["+ bowl", "− bowl"] : [];
  const keys = ["7", "8", "9", "½", "4", "5", "6", "¼", "1", "2", "3", "¾", "0", ".", ",", "⌫", ...units, ...bowls];
  for (const sign of keys) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = sign;
    if (sign.endsWith("bowl")) button.className = "bowl";
    else if (units.includes(sign)) button.className = "unit";
    if (sign === "⌫") button.setAttribute("aria-label", "Take back the last sign");
    button.addEventListener("click", () => press(input, sign));
    box.append(button);
  }
  input.inputMode = "none";
  input.after(box);
}

function press(input, sign) {
  const before = input.value;
  input.dataset.touched = "";
  if (sign === "⌫") input.value = before.trimEnd().replace(/\s*([a-z]+|.)$/u, "");
  else if (sign.endsWith("bowl")) input.value = `${before.trim()} ${sign === "+ bowl" ? "+" : "-"} `;
  else if (/^[a-z]/.test(sign)) input.value = `${before.trimEnd()} ${sign}`;
  else if (/[a-z]$/.test(before)) input.value = `${before} ${sign}`;
  else input.value = before + sign;
  if (navigator.vibrate) navigator.vibrate(10);
}

function ready() {
  document.querySelectorAll("input[data-kind]").forEach((input) => {
    if (input.form.querySelectorAll("input[data-kind]").length === 1) pad(input);
    else input.addEventListener("focus", () => {  // of several fields the one that is filled in
      input.form.querySelectorAll(".pad").forEach((other) => {
        if (other.previousElementSibling !== input) other.remove();
      });
      pad(input);
    });
    input.addEventListener("input", () => { input.dataset.touched = ""; });
  });
}

function pairing() {
  const form = document.getElementById("pair"), code = location.hash.slice(1);
  if (!form || !code) return;
  form.querySelector("#code").value = decodeURIComponent(code);
  history.replaceState(null, "", "/pair");
  form.submit();
}

document.addEventListener("submit", submitted);
addEventListener("pointerdown", (event) => {
  pressed = true;
  if (!line.contains(event.target)) tapped = event.clientY;
});
for (const end of ["pointerup", "pointercancel"]) {
  addEventListener(end, () => setTimeout(() => { pressed = false; }, 50));
}
addEventListener("online", flush);
addEventListener("popstate", () => location.reload());
document.addEventListener("visibilitychange", inStep);
setInterval(inStep, POLL_MS);
setInterval(flush, RETRY_MS);
ready();
tellLine();
flush();
pairing();
