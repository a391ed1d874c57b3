// The panel of the player: play, pause, speed, line by line, drag along time.

import { button, make } from "./dom.js";

export function watchPanel(player) {
  if (!player || !player.total) return make("p", { text: "The lines are still being joined. Wait a moment." });
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const words = make("p", { id: "watch-words" });
  const where = make("p", { id: "watch-where", class: "soft" });
  const aloud = make("p", { class: "skip", role: "status", "aria-live": "polite" });
  const time = make("input", { type: "range", id: "time", min: 0, max: player.total, step: 1, value: player.at, oninput: () => player.seek(Number(time.value)) });
  const go = button("Play", () => (player.playing ? player.pause() : player.play()), { class: "main", id: "play" });
  const speed = make("select", { id: "speed", onchange: () => { player.speed = Number(speed.value); } },
    ...[[15, "slow"], [60, "as by hand"], [600, "fast"], [4000, "very fast"]].map(([n, text]) => make("option", { value: n, text, selected: n === player.speed })));
  const line = make("select", { id: "line", onchange: () => player.toLine(Number(line.value)) },
    ...player.lines.map((one, i) => make("option", { value: i, text: `${one.name}: ${(one.end - one.at).toLocaleString()} stitches` })));
  player.said = (text, loud) => {
    words.textContent = text;
    where.textContent = player.where();
    where.dataset.mm = player.needle().map((v) => v.toFixed(3)).join(" ");
    time.value = player.at;
    time.setAttribute("aria-valuetext", text);
    line.value = player.lineNow();
    go.textContent = player.playing ? "Pause" : "Play";
    if (loud) aloud.textContent = text;
  };
  player.said(player.words(), false);
  const planned = player.lines.flatMap((one) => one.stops).filter((stop) => stop.what.includes("bobbin is")).length;
  const many = (n, what) => `${n} ${what}${n === 1 ? "" : "s"}`;
  return make("div", {},
    make("h2", { text: "Watch it stitched" }),
    words, where, aloud,
    make("div", { class: "row" }, go, button("Line before", () => player.step(-1)), button("Next line", () => player.step(1))),
    make("label", { class: "field" }, make("span", { text: "Where in the stitching" }), time),
    make("label", { class: "field" }, make("span", { text: "Line" }), line),
    make("label", { class: "field" }, make("span", { text: "Speed" }), speed),
    calm ? make("p", { class: "soft", text: "You asked for little motion: step line by line, or drag." }) : null,
    make("p", { class: "soft", text: `${many(player.lines.length, "line")}${planned ? `, ${many(planned, "stop")} for a new bobbin` : ""}. A dashed line is a move: nothing is stitched.` }));
}
