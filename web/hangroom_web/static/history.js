// The picture of a room's past, finer than the page's own drawing, with a readout for a touch.
// Without this file, or without an answer, the page's own drawing stays.
"use strict";
(() => {
  const figure = document.querySelector("[data-history]");
  if (!figure || !window.uPlot) return;
  const words = JSON.parse(figure.dataset.words);
  const drawn = figure.querySelector("svg");
  const readout = document.getElementById("readout");
  const lost = document.getElementById("lost");
  const EVERY_MS = 60000, PATIENCE_MS = 8000;
  const LEFT = 40, RIGHT = 10, TOP = 22, BETWEEN = 26, LANE = 24, BAR = 14, RELAY = 38, FOOT = 26;
  let plot = null, data = null, colours = {}, heard = Date.now(), asked = 0, touched = null;

  const fill = (text, ...values) => values.reduce((said, value) => said.replace("{}", value), text);

  function readColours() {
    const style = getComputedStyle(document.documentElement);
    const forced = matchMedia("(forced-colors: active)").matches;
    for (const name of ["ink", "muted", "rule", "edge", "card", "juniper", "ochre", "slate"]) {
      colours[name] = forced ? { card: "Canvas", rule: "GrayText", edge: "GrayText" }[name] || "CanvasText" : style.getPropertyValue("--" + name).trim();
    }
  }

  function clock(zone) {
    const form = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
    });
    return (seconds) => Object.fromEntries(form.formatToParts(seconds * 1000).map((part) => [part.type, part.value]));
  }

  // Everything on one canvas: each strip is a part of its height.
  function layout(height) {
    const relays = Object.keys(data.drawn.relays).length;
    const strip = (height - FOOT - TOP - BETWEEN - LANE - relays * RELAY) / 2;
    return {
      temperature: [TOP, TOP + strip],
      humidity: [TOP + strip + BETWEEN, TOP + 2 * strip + BETWEEN],
      air: [TOP, TOP + 2 * strip + BETWEEN],
      marks: TOP + 2 * strip + BETWEEN + LANE / 2 + 2,
      relays: TOP + 2 * strip + BETWEEN + LANE,
    };
  }

  // The range a scale needs over the whole height for its span to fill its own strip.
  function range(key) {
    return (u) => {
      const height = u.height - FOOT, [top, foot] = layout(u.height)[key], [low, high] = data.drawn[key].span;
      const each = (high - low) / (foot - top);
      return [low - (height - foot) * each, high + top * each];
    };
  }

  function columns() {
    const since = data.drawn.since_s, step = data.stretch_s;
    const at = data.readings.map((_, place) => Math.min(since + (place + 0.5) * step, data.drawn.until_s));
    const of = (key) => ["lowest", "highest", "mean"].map((name) =>
      data[key][name].map((value) => value === null ? null : value * data.drawn[key].times + data.drawn[key].plus));
    return [at, ...of("temperature"), ...of("humidity")];
  }

  const SHAPES = {
    alarm: "M0-5.5L5.5 4.5H-5.5z", door: "M-3.5-5.5h7v11h-7zM1.2-.5v1", inspection: "M5 0A5 5 0 1 1-5 0A5 5 0 1 1 5 0z",
    setpoint: "M0-5.5L5.5 0L0 5.5L-5.5 0z", stage: "M-4.5-4.5h9v9h-9z",
  };

  function pen(u, paint) {
    const c = u.ctx, one = uPlot.pxRatio;
    c.save();
    c.scale(one, one);
    c.font = "12.5px system-ui, sans-serif";
    const width = u.width - LEFT - RIGHT, since = data.drawn.since_s, until = data.drawn.until_s;
    const x = (seconds) => LEFT + width * Math.min(1, Math.max(0, (seconds - since) / (until - since)));
    const y = (key, value) => {
      const [top, foot] = layout(u.height)[key], [low, high] = data.drawn[key].span;
      return foot - (foot - top) * (Math.min(high, Math.max(low, value)) - low) / (high - low);
    };
    paint(c, x, y, layout(u.height), LEFT + width);
    c.restore();
  }

  function line(c, colour, width, ...points) {
    c.strokeStyle = colour; c.lineWidth = width; c.beginPath();
    points.forEach(([px, py], place) => place ? c.lineTo(px, py) : c.moveTo(px, py));
    c.stroke();
  }

  function below(u) {
    pen(u, (c, x, y, where, right) => {
      const foot = u.height - FOOT;
      for (const [at, said] of data.drawn.ticks) line(c, colours.rule, 1, [x(at), said ? TOP : foot], [x(at), foot + (said ? 5 : 3)]);
      for (const key of ["temperature", "humidity"]) {
        const [top, bottom] = where[key];
        for (const edge of [top, bottom]) line(c, colours.rule, 1, [LEFT, edge], [right, edge]);
        for (const [from, to, low, set, high] of data.drawn[key].bands_s) {
          c.globalAlpha = 0.14; c.fillStyle = colours.juniper;
          c.fillRect(x(from), y(key, high), x(to) - x(from), y(key, low) - y(key, high));
          c.globalAlpha = 1;
          line(c, colours.juniper, 1, [x(from), y(key, set)], [x(to), y(key, set)]);
        }
      }
    });
  }

  function hatch(c, left, top, right, foot) {
    c.save();
    c.beginPath(); c.rect(left, top, right - left, foot - top); c.clip();
    c.fillStyle = colours.card; c.fillRect(left, top, right - left, foot - top);
    for (let at = left - (foot - top) - ((left - foot) % 6); at < right; at += 6) {
      line(c, colours.edge, 0.8, [at, foot], [at + foot - top, top]);
    }
    c.restore();
  }

  function above(u) {
    pen(u, (c, x, y, where, right) => {
      const foot = u.height - FOOT;
      // Over the curves: none of them goes through a time in which nothing was read.
      for (const [from, to] of data.drawn.gaps_s) hatch(c, x(from), where.air[0], Math.max(x(to), x(from) + 1.5), where.air[1]);
      for (const [key, colour, dash] of [["temperature", "ochre", []], ["humidity", "slate", [6, 3]]]) {
        const [top, bottom] = where[key], { name, unit, span } = data.drawn[key];
        c.setLineDash(dash); line(c, colours[colour], 2, [LEFT, top - 10], [LEFT + 22, top - 10]); c.setLineDash([]);
        c.fillStyle = colours[colour]; c.textAlign = "left"; c.fillText(name + ", " + unit, LEFT + 28, top - 6);
        c.fillStyle = colours.muted; c.textAlign = "right";
        c.fillText(String(span[1]), LEFT - 6, top + 5); c.fillText(String(span[0]), LEFT - 6, bottom + 4);
      }
      data.marks.forEach((mark, place) => {
        const shape = new Path2D(SHAPES[mark.kind]), full = mark.kind === "alarm" || mark.kind === "stage";
        c.save(); c.translate(x(data.drawn.marks_s[place]), where.marks);
        c.fillStyle = full ? colours.ink : colours.card; c.fill(shape);
        c.strokeStyle = colours.ink; c.lineWidth = 1.4; c.stroke(shape); c.restore();
      });
      let at = where.relays;
      for (const [relay, [, name]] of Object.entries(data.drawn.relays)) {
        c.fillStyle = colours.muted; c.textAlign = "left"; c.fillText(name, LEFT, at + 10);
        at += 16 + BAR;
        line(c, colours.rule, 1, [LEFT, at], [right, at]);
        c.fillStyle = colours.ink;
        data.relays[relay].forEach((on, place) => {
          if (!on) return;
          const from = x(data.drawn.since_s + place * data.stretch_s), to = x(data.drawn.since_s + (place + 1) * data.stretch_s);
          c.fillRect(from, at - Math.max(BAR * on, 1), Math.max(to - from, 0.5), Math.max(BAR * on, 1));
        });
        at += RELAY - 16 - BAR;
      }
      line(c, colours.ink, 1.2, [LEFT, foot], [right, foot]);
      line(c, colours.ink, 1.2, [right, TOP], [right, foot + 5]);
      c.fillStyle = colours.muted; c.textAlign = "center";
      const end = data.drawn.live ? right - 48 : right - 12;
      for (const [when, said] of data.drawn.ticks) if (x(when) > LEFT + 8 && x(when) < end) c.fillText(said, x(when), foot + 18);
      c.textAlign = "right"; if (data.drawn.live) c.fillText(words.now, right + 5, foot + 18);
    });
  }

  // A stretch with a gap on both sides has no line to be on: it gets a dot.
  function alone(u, series) {
    const values = u.data[series], found = [];
    values.forEach((value, place) => {
      if (value !== null && (values[place - 1] ?? null) === null && (values[place + 1] ?? null) === null) found.push(place);
    });
    return found;
  }

  function build() {
    const width = figure.clientWidth;
    const relays = Object.keys(data.drawn.relays).length;
    const height = Math.round(Math.max(drawn.getBoundingClientRect().height, 260 + relays * RELAY, plot ? plot.height : 0));
    const edge = (scale) => ({ scale, width: 0, points: { show: false }, stroke: "transparent" });
    const mean = (scale, colour, dash) => ({
      scale, dash, width: 1.6, stroke: () => colours[colour],
      points: { show: true, size: 4, width: 0, fill: () => colours[colour], stroke: () => colours[colour], filter: alone },
    });
    const faint = (colour) => () => colours[colour].startsWith("#") ? colours[colour] + "50" : "GrayText";
    const made = new uPlot({
      width, height, padding: [0, 0, 0, 0],
      legend: { show: false },
      cursor: { y: false, drag: { x: false, y: false }, points: { show: false } },
      scales: {
        x: { time: false, range: () => [data.drawn.since_s, data.drawn.until_s] },
        temperature: { range: range("temperature") }, humidity: { range: range("humidity") },
      },
      series: [{}, edge("temperature"), edge("temperature"), mean("temperature", "ochre"),
        edge("humidity"), edge("humidity"), mean("humidity", "slate", [6, 3])],
      bands: [{ series: [2, 1], fill: faint("ochre") }, { series: [5, 4], fill: faint("slate") }],
      // The canvas' edges stand in for axes; what is written there is written by `above`.
      axes: [
        { side: 2, size: FOOT, values: () => [], splits: () => [], grid: { show: false }, ticks: { show: false } },
        { scale: "temperature", side: 3, size: LEFT, splits: () => [], values: () => [], grid: { show: false }, ticks: { show: false } },
        { scale: "humidity", side: 1, size: RIGHT, splits: () => [], values: () => [], grid: { show: false }, ticks: { show: false } },
      ],
      hooks: { drawClear: [below], draw: [above], setCursor: [show] },
    }, columns(), document.createElement("div"));
    if (plot) plot.destroy();
    plot = made;
    const wrap = plot.root;
    wrap.setAttribute("role", "img");
    wrap.setAttribute("aria-label", data.drawn.said);
    figure.append(wrap);
    drawn.setAttribute("hidden", "");
    readout.hidden = false;
    figure.dataset.drawn = "finer";
    if (touched !== null) point(touched);
  }

  function point(place) {
    const at = Math.min(Math.max(place, 0), data.readings.length - 1);
    plot.setCursor({ left: plot.valToPos(plot.data[0][at], "x"), top: 10 });
  }

  function figures(key, place) {
    const { name, unit, times, plus } = data.drawn[key];
    const [low, mean, high] = ["lowest", "mean", "highest"].map((part) => data[key][part][place]);
    if (mean === null) return name + ": " + words.none;
    const said = [mean, low, high].map((value) => (value * times + plus).toFixed(1));
    return name + " " + fill(words.value, said[0] + " " + unit, said[1], said[2]);
  }

  function show(u) {
    const place = u.cursor.idx;
    if (place === null || place === undefined || u.cursor.left < 0) return;
    touched = place;
    const told = clock(data.drawn.zone), from = data.drawn.since_s + place * data.stretch_s;
    const start = told(from), end = told(Math.min(from + data.stretch_s, data.drawn.until_s));
    const day = (t) => t.weekday + " " + t.day + " " + t.month, hour = (t) => t.hour + ":" + t.minute;
    const other = day(start) === day(end) ? hour(end) : day(end) + " " + hour(end);
    const relays = Object.entries(data.drawn.relays).map(([relay, [name]]) => {
      const on = data.relays[relay][place];
      return name + " " + (on === null ? words.unknown : on > 0 ? fill(words.on, Math.max(1, Math.round(on * 100))) : words.off);
    });
    // A finger is wider than a stretch: what is marked under it is told.
    const reach = 9 * (data.drawn.until_s - data.drawn.since_s) / (u.width - LEFT - RIGHT);
    const marks = data.marks.filter((_, n) => Math.abs(data.drawn.marks_s[n] - plot.data[0][place]) < Math.max(reach, data.stretch_s / 2))
      .map((mark) => data.drawn.kinds[mark.kind] + ": " + mark.said);
    const lines = [figures("temperature", place), figures("humidity", place), relays.join(", "), ...marks];
    const head = document.createElement("strong");
    head.textContent = fill(words.span, day(start) + " " + hour(start), other);
    readout.replaceChildren(head, ...lines.map((said) => Object.assign(document.createElement("span"), { textContent: said })));
  }

  async function ask() {
    const turn = ++asked;
    const stop = new AbortController(), timer = setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      // About one stretch per pixel; each keeps its lowest and highest.
      const points = Math.min(721, Math.max(200, figure.clientWidth));
      const address = new URL(figure.dataset.history, location);
      address.searchParams.set("points", points);
      const answer = await fetch(address, { signal: stop.signal, headers: { Accept: "application/json" } });
      if (!answer.ok) return;
      const fresh = await answer.json();
      if (turn !== asked) return;
      data = fresh; heard = Date.now(); lost.hidden = true;
      build();
    } catch {
      if (turn !== asked || !plot) return;
      lost.textContent = fill(words.lost, new Date(heard).toTimeString().slice(0, 5));
      lost.hidden = false;
    } finally { clearTimeout(timer); }
  }

  function again() {
    if (!document.hidden && data && data.drawn.live && Date.now() - heard >= EVERY_MS) ask();
  }

  figure.tabIndex = 0;
  figure.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1, Home: -1e9, End: 1e9 }[event.key];
    if (!step || !plot) return;
    event.preventDefault();
    point((touched ?? data.readings.length) + step);
  });
  for (const query of ["(prefers-color-scheme: dark)", "(forced-colors: active)"]) {
    matchMedia(query).addEventListener("change", () => { readColours(); if (plot) plot.redraw(false); });
  }
  new ResizeObserver(() => { if (plot && figure.clientWidth !== plot.width) build(); }).observe(figure);
  document.addEventListener("visibilitychange", again);
  setInterval(again, 5000);
  readColours();
  ask();
})();
