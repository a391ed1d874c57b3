// The panel of the player: play, pause, speed, line by line, drag along time.

import { button, make } from "./dom.js";

export function watchPanel(player) {
  if (!player || !player.total) return make("p", { text: "The lines are still being joined. Wait a moment." });
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const words = make("p", { id: "watch-words", text: player.words() });
  const aloud = make("p", { class: "skip", role: "status", "aria-live": "polite" });
  const time = make("input", { type: "range", id: "time", min: 0, max: player.total, step: 1, value: player.at, "aria-label": "Stitch", oninput: () => player.seek(Number(time.value)) });
  const go = button(player.playing ? "Pause" : "Play", () => (player.playing ? player.pause() : player.play()), { class: "main", id: "play" });
  const speed = make("select", { id: "speed", onchange: () => { player.speed = Number(speed.value); } },
    ...[[15, "slow"], [60, "as by hand"], [600, "fast"], [4000, "very fast"]].map(([n, text]) => make("option", { value: n, text, selected: n === player.speed })));
  player.said = (text, loud) => {
    words.textContent = text;
    time.value = player.at;
    go.textContent = player.playing ? "Pause" : "Play";
    if (loud) aloud.textContent = text;
  };
  return make("div", {},
    make("h2", { text: "Watch it stitched" }),
    words, aloud,
    make("div", { class: "row" }, go, button("Line before", () => player.step(-1)), button("Next line", () => player.step(1))),
    make("label", { class: "field" }, make("span", { text: "Where in the stitching" }), time),
    make("label", { class: "field" }, make("span", { text: "Speed" }), speed),
    calm ? make("p", { class: "soft", text: "You asked for little motion: step line by line, or drag." }) : null,
    make("p", { class: "soft", text: `${player.lines.length} lines; ${player.quilt.stops.length} stops on the way for the bobbin or by plan. Between two lines the thread is cut or drawn along.` }));
}
