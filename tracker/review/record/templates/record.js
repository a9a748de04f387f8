"use strict";
(() => {
  const figure = document.querySelector("figure.timeline");
  const live = figure.querySelector(".live");
  const controls = figure.querySelector(".controls");
  const told = figure.querySelector(".told");
  const spec = JSON.parse(document.getElementById("timeline-data").textContent);
  const given = (name) => spec.signals.find((signal) => signal.name === name).value;
  const whole = [given("earliest"), given("latest")];
  const marks = spec.data
    .flatMap((table) => table.values || [])
    .filter((row) => row.Mark && row.Mark !== "a tick")
    .sort((a, b) => a.start - b.start);
  const outside = 320; // labels on the left and figures on the right of the plot
  const shortest = 60000;
  const time = (ms) => new Date(ms).toISOString().slice(11, 19);

  const follow = (view) => {
    let [from, to] = whole;
    let at = -1;

    const show = (start, length, words) => {
      const wide = Math.min(Math.max(length, shortest), whole[1] - whole[0]);
      from = Math.min(Math.max(start, whole[0]), whole[1] - wide);
      to = from + wide;
      view.signal("earliest", from).signal("latest", to).runAsync();
      told.textContent = words || `Showing ${time(from)} to ${time(to)}.`;
    };
    const zoom = (factor, middle = (from + to) / 2) =>
      show(middle - (middle - from) * factor, (to - from) * factor);
    const jump = (step) => {
      if (!marks.length) return;
      at = Math.min(Math.max(at + step, 0), marks.length - 1);
      const mark = marks[at];
      const wide = Math.min(to - from, 1800000);
      show(mark.start - wide / 2, wide, `${at + 1} of ${marks.length}: ${mark.Mark}, ${mark.What}, ${mark.At}, entry ${mark.Entry}.`);
    };
    const acts = {
      earlier: () => show(from - (to - from) / 4, to - from),
      later: () => show(from + (to - from) / 4, to - from),
      closer: () => zoom(0.5),
      wider: () => zoom(2),
      whole: () => show(whole[0], whole[1] - whole[0]),
      previous: () => jump(-1),
      next: () => jump(1),
    };
    controls.addEventListener("click", (event) => acts[event.target.dataset.act]?.());

    const perPixel = () => (to - from) / view.width();
    let held = null;
    live.addEventListener("pointerdown", (event) => { held = event.clientX; });
    for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => { held = null; });
    live.addEventListener("pointermove", (event) => {
      if (held === null) return;
      show(from - (event.clientX - held) * perPixel(), to - from);
      held = event.clientX;
    });
    live.addEventListener("dblclick", acts.whole);
    live.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return;
      event.preventDefault();
      zoom(event.deltaY < 0 ? 0.8 : 1.25);
    }, { passive: false });

    const fit = () => view.width(Math.max(live.clientWidth, 720) - outside).runAsync();
    addEventListener("resize", fit);
    fit();
  };

  live.hidden = false;
  figure.classList.add("alive");
  vegaEmbed(live, spec, {
    mode: "vega", renderer: "svg", ast: true, actions: false, defaultStyle: false,
    tooltip: { disableDefaultStyle: true },
  }).then(({ view }) => { controls.hidden = false; follow(view); }, () => {
    live.hidden = true;
    figure.classList.remove("alive");
  });
})();
