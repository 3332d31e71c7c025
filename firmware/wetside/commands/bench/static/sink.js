"use strict";
// The page of the sink: draws what the station shows, and sends what hands do.
const $ = (id) => document.getElementById(id);
const canvas = $("display").getContext("2d");
const history = [];

function send(path, body) {
  return fetch(path, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
  }).catch(() => { $("link").textContent = "the bench does not answer"; });
}

function draw(picture, dark) {
  const bytes = Uint8Array.from(atob(picture), (c) => c.charCodeAt(0));
  const image = canvas.createImageData(128, 64);
  for (let i = 0; i < 128 * 64; i++) {
    const lit = !dark && (bytes[i >> 3] >> (7 - (i & 7))) & 1;
    image.data.set(lit ? [235, 242, 255, 255] : [6, 8, 12, 255], 4 * i);
  }
  canvas.putImageData(image, 0, 0);
}

function say(element, text) { if (element.textContent !== text) element.textContent = text; }

function truth(t) {
  const rows = {
    developer: t.poured ? `in the tank (${t.developer_celsius.toFixed(2)} °C when poured)`
      : `${t.developer_celsius.toFixed(2)} °C, ${t.developer_in_bath ? "in the bath" : "lifted out"}`,
    bath: `${t.bath_celsius.toFixed(2)} °C, ${t.bath_litres.toFixed(1)} L`,
    ice: `${(1000 * t.ice_kilograms).toFixed(0)} g`,
    taps: `hot ${t.hot_litres_per_minute} and cold ${t.cold_litres_per_minute} L/min `
      + `(${t.hot_tap_celsius.toFixed(0)} and ${t.cold_tap_celsius.toFixed(0)} °C)`,
    room: `${t.room_celsius.toFixed(1)} °C`,
    probe: Object.entries(t.probes).map(([n, p]) =>
      `${n} in ${p}${t.plugged[n] ? "" : ", unplugged"}`).join("; "),
  };
  $("truth").replaceChildren(...Object.entries(rows).flatMap(([k, v]) => {
    const dt = document.createElement("dt"), dd = document.createElement("dd");
    dt.textContent = k; dd.textContent = v;
    return [dt, dd];
  }));
}

function chart(t) {
  history.push([t.seconds, t.developer_celsius, t.bath_celsius]);
  while (history.length && history[0][0] < t.seconds - 600) history.shift();
  const all = history.flatMap((h) => [h[1], h[2]]);
  const low = Math.floor(Math.min(...all) - 0.5), high = Math.ceil(Math.max(...all) + 0.5);
  const x = (s) => 30 + 285 * (1 - (t.seconds - s) / 600);
  const y = (c) => 112 - 104 * (c - low) / (high - low);
  const line = (n) => history.map((h) => `${x(h[0]).toFixed(1)},${y(h[n]).toFixed(1)}`).join(" ");
  $("developer-line").setAttribute("points", line(1));
  $("bath-line").setAttribute("points", line(2));
  const step = Math.max(1, Math.ceil((high - low) / 5));
  const marks = [];
  for (let c = low; c <= high; c += step) {
    marks.push(`<line x1="30" x2="315" y1="${y(c)}" y2="${y(c)}"/>`
      + `<text x="26" y="${y(c) + 3}" text-anchor="end">${c}</text>`);
  }
  $("grid").innerHTML = marks.join("");
}

const stream = new EventSource("/live");
stream.onopen = () => say($("link"), "connected");
stream.onerror = () => say($("link"), "the bench does not answer; trying again");
stream.onmessage = (message) => {
  const { live, truth: t, actions, speed, sounding } = JSON.parse(message.data);
  draw(live.picture, live.dark);
  say($("words"), live.dark ? "lights out: the display is off" : live.screen.text);
  const fresh = live.last_cue && live.at - live.last_cue.at < 15;
  say($("cue"), fresh ? `buzzer: ${live.last_cue.name}` : "");
  $("lamp").classList.toggle("on", Boolean(sounding));
  truth(t); chart(t);
  $("actions").replaceChildren(...actions.slice().reverse().map((a) => {
    const li = document.createElement("li");
    li.textContent = `${a.at}  ${a.text}`;
    return li;
  }));
  if (speed && document.activeElement !== $("speed")) {
    const known = [...$("speed").options].some((o) => o.value === String(speed));
    if (!known) $("speed").add(new Option(`${speed} ×`, String(speed)));
    $("speed").value = String(speed);
  }
};

// buttons: how long the finger stays down decides between the two meanings
const down = new Map();
function finger(name, pressed) {
  const button = document.querySelector(`[data-press="${name}"]`);
  button.classList.toggle("down", pressed);
  if (pressed) { if (!down.has(name)) down.set(name, performance.now()); return; }
  if (!down.has(name)) return;
  const seconds = (performance.now() - down.get(name)) / 1000;
  down.delete(name);
  send("/hands", { deed: "press", what: name, amount: seconds > 1 ? 1.6 : 0.15 });
}
for (const button of document.querySelectorAll("[data-press]")) {
  const name = button.dataset.press;
  button.addEventListener("pointerdown", (e) => { button.setPointerCapture(e.pointerId); finger(name, true); });
  button.addEventListener("pointerup", () => finger(name, false));
  button.addEventListener("pointercancel", () => { down.delete(name); button.classList.remove("down"); });
  button.addEventListener("keydown", (e) => { if (e.key === "Enter" || e.key === " ") { e.preventDefault(); finger(name, true); } });
  button.addEventListener("keyup", (e) => { if (e.key === "Enter" || e.key === " ") finger(name, false); });
}
const KEYS = { n: "now", p: "probe", w: "wait" };
const typing = (e) => e.target.closest("select, input") || e.ctrlKey || e.metaKey || e.altKey;
document.addEventListener("keydown", (e) => { if (KEYS[e.key] && !typing(e)) finger(KEYS[e.key], true); });
document.addEventListener("keyup", (e) => { if (KEYS[e.key] && !typing(e)) finger(KEYS[e.key], false); });
for (const button of document.querySelectorAll("[data-deed]")) {
  button.addEventListener("click", () => send("/hands", {
    deed: button.dataset.deed, what: button.dataset.what || "", amount: Number(button.dataset.amount || 0),
  }));
}
$("speed").addEventListener("change", () => send("/speed", { speed: Number($("speed").value) }));
