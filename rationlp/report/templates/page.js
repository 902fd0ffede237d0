// What if a price moves: the pieces of the price stand in the page, so that no solver and no network is needed.
"use strict";
(() => {
  // What is printed whole is folded out for the printer, and as it was afterwards.
  let folded = [];
  addEventListener("beforeprint", () => {
    folded = [...document.querySelectorAll("details.unfolds:not([open])")];
    folded.forEach((each) => { each.open = true; });
  });
  addEventListener("afterprint", () => folded.forEach((each) => { each.open = false; }));

  const data = JSON.parse(document.getElementById("data").textContent);
  const form = document.getElementById("ask");
  if (!form || !data.rations.length) return;
  const at = (id) => document.getElementById(id);
  const select = at("ask-ration");
  let ration = data.rations[0];
  let moved = null;  // the question whose price is not today's, and that price in the book's unit
  let fields = [];
  let levels = [];

  // Numbers as the program writes them (rationlp/numbers.py).
  const grouped = (text) => {
    const [whole, part] = text.split(".");
    const apart = whole.replace(/\B(?=(\d{3})+$)/g, ",");
    return part === undefined ? apart : `${apart}.${part}`;
  };
  const fixed = (value, places) => {
    const text = Math.abs(value).toFixed(places);
    return (value < 0 ? "-" : "") + grouped(text);
  };
  const plain = (value, digits) => {
    if (value === 0) return "0";
    const text = fixed(value, Math.max(digits - 1 - Math.floor(Math.log10(Math.abs(value))), 0));
    return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
  };

  const element = (name, attributes, ...children) => {
    const made = document.createElementNS(
      ["svg", "line"].includes(name) ? "http://www.w3.org/2000/svg" : "http://www.w3.org/1999/xhtml", name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...children);
    return made;
  };

  const book = (perTonne) => perTonne * data.perTonne;
  const today = (question) => book(data.feeds[question.offer].price);
  const cents = (value) => Math.round(value * 100) / 100;

  // The mix at a price of a question: that of its piece; just at today's price today's own.
  const mixAt = (question, price) => {
    if (price === null) return ration.mixes[ration.today];
    const perTonne = price / data.perTonne;
    let place = 0;
    while (place < question.mixes.length - 1 && perTonne > question.ends[place + 1]) place += 1;
    return ration.mixes[question.mixes[place]];
  };
  const costOf = (mix, question, price) => mix.parts.reduce((sum, [feed, share]) => {
    const own = question !== null && feed === question.offer;
    return sum + share * (own ? price : book(data.feeds[feed].price));
  }, 0);
  const grownOf = (mix) => mix.parts.reduce((sum, [feed, share]) => sum + (data.feeds[feed].grown ? share : 0), 0);

  const show = () => {
    const now = ration.mixes[ration.today];
    const question = moved && moved.question || null;
    const price = moved && moved.price;
    const stop = moved && moved.level ? moved.level.stops[moved.place] : null;
    const mix = question ? mixAt(question, price) : stop ? ration.mixes[stop.mix] : now;
    const cost = costOf(mix, question, price);
    const perHead = mix.feed === null ? null : mix.feed * cost / data.perTonne / 1000;
    at("ask-what").textContent = question
      ? `${data.feeds[question.offer].id} at ${fixed(price, 2)} instead of ${fixed(today(question), 2)} ${data.perMass}`
      : stop ? `${moved.level.asks}: ${told(stop)}, ration ${stop.id}` : "Today's prices";
    at("ask-verdict").textContent = stop ? stop.verdict : question ? "Not judged here" : "";
    const was = question || stop ? ` (today ${fixed(costOf(now, null, null), 2)})` : "";
    at("ask-cost").textContent = fixed(cost, 2) + was;
    at("ask-head").textContent = perHead === null ? "not known" : perHead >= 0.1 ? fixed(perHead, 2) : plain(perHead, 2);
    at("ask-grown").textContent = `${fixed(100 * grownOf(mix), 1)} %`;
    const before = new Map(now.parts);
    const shares = new Map(mix.parts);
    const scale = data.batchKg / data.massKg;
    const rows = [...new Set([...shares.keys(), ...before.keys()])]
      .map((feed) => [feed, shares.get(feed) || 0, before.get(feed) || 0])
      .sort((a, b) => b[1] - a[1] || b[2] - a[2]);
    at("ask-mix").replaceChildren(...rows.map(([feed, share, old]) => {
      const change = (share - old) * scale;
      const told = Math.abs(share - old) < 5e-5 ? "" : (change > 0 ? "+" : "-") + plain(Math.abs(change), 3);
      return element("tr", {},
        element("th", { scope: "row" }, data.feeds[feed].id),
        element("td", { class: "n" }, share ? plain(share * scale, 4) : "out"),
        element("td", { class: "n" }, told));
    }));
    levels.forEach((set) => set());
    for (const field of fields) {
      const own = question === field.question;
      const value = own ? price : cents(today(field.question));
      if (field.slider !== document.activeElement || !own) field.slider.value = value;
      if (field.number !== document.activeElement || !own) field.number.value = value.toFixed(2);
      field.slider.setAttribute("aria-valuetext", `${fixed(value, 2)} ${data.perMass}`);
    }
  };

  // A level of certainty or of home-grown feed: each was made anew, none lies between two.
  const told = (stop) => (stop.pct ? plain(stop.pct, 4) : "as it is");
  const levelField = (level, place) => {
    const slider = element("input", {
      type: "range", id: `ask-l-${place}`, min: 0, max: level.stops.length - 1, step: 1, value: level.today });
    const label = element("label", { for: slider.id }, `${level.asks}: today ${told(level.stops[level.today])}`);
    const number = element("output", { for: slider.id, class: "n" });
    const set = () => {
      const here = moved && moved.level === level ? moved.place : level.today;
      if (Number(slider.value) !== here) slider.value = here;
      number.textContent = told(level.stops[here]);
      slider.setAttribute("aria-valuetext", told(level.stops[here]));
    };
    slider.addEventListener("input", () => {
      const here = Number(slider.value);
      moved = here === level.today ? null : { level, place: here };
      show();
    });
    at("ask-sliders").append(element("div", { class: "slider" }, label, slider, number));
    return set;
  };

  const move = (question, value) => {
    const [low, high] = [book(question.ends[0]), book(question.ends[question.ends.length - 1])];
    if (!Number.isFinite(value)) return;
    const price = Math.min(Math.max(value, low), high);
    moved = Math.abs(price - cents(today(question))) < 0.005 ? null : { question, price };
    show();
  };

  // A line for every price at which the mix changes, a thick one for today.
  const marks = (question, low, high) => {
    const svg = element("svg", {
      class: "marks", viewBox: "0 0 1000 10", preserveAspectRatio: "none", "aria-hidden": "true", focusable: "false" });
    const mark = (price, look) => {
      const x = 8 + 984 * (price - low) / (high - low);
      svg.append(element("line", { class: look, x1: x, x2: x, y1: 0, y2: 10, "vector-effect": "non-scaling-stroke" }));
    };
    question.ends.slice(1, -1).forEach((end) => mark(book(end), "change"));
    mark(today(question), "now");
    return svg;
  };

  const build = () => {
    moved = null;
    levels = ration.levels.map(levelField);
    fields = ration.questions.map((question, place) => {
      const feed = data.feeds[question.offer];
      const low = Math.ceil(100 * book(question.ends[0]) - 1e-6) / 100;
      const high = Math.floor(100 * book(question.ends[question.ends.length - 1]) + 1e-6) / 100;
      const common = { min: low, max: high, step: "0.01" };
      const slider = element("input", { type: "range", id: `ask-${place}`, ...common });
      slider.step = "any";
      const number = element("input", {
        type: "number", id: `ask-n-${place}`, inputmode: "decimal", "aria-label": `${feed.id}: price in ${data.perMass}`, ...common });
      const label = element("label", { for: slider.id }, `${feed.id} (${feed.label}), today ${fixed(today(question), 2)}`);
      slider.addEventListener("input", () => move(question, cents(Number(slider.value))));
      slider.addEventListener("keydown", (event) => {
        const steps = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[event.key];
        if (!steps) return;
        event.preventDefault();
        const one = Math.max(cents((high - low) / 100), 0.01);
        slider.value = cents(Number(slider.value) + steps * one);
        move(question, cents(Number(slider.value)));
      });
      number.addEventListener("input", () => move(question, number.value === "" ? NaN : Number(number.value)));
      number.addEventListener("change", () => { number.blur(); show(); });
      at("ask-sliders").append(element("div", { class: "slider" }, label, slider, number, marks(question, low, high)));
      return { question, slider, number };
    });
  };

  const choose = () => {
    ration = data.rations.find((each) => each.id === select.value);
    at("ask-sliders").replaceChildren();
    build();
    show();
  };
  select.addEventListener("change", choose);
  at("ask-back").addEventListener("click", () => { moved = null; show(); });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.hidden = false;
  choose();
})();
