"use strict";
// Questions that check themselves; `aquaplumb.teaching.sealed` says what stands in `data-sealed`. Nothing is sent anywhere.
(() => {
const UNITS = {{ units }}, NOUNS = {{ nouns }}, SLIPS = {{ slips }}, CLOSE = {{ close }};

function opened(text, salt) {
  let state = 2166136261;
  for (const sign of new TextEncoder().encode(salt)) state = Math.imul(state ^ sign, 16777619) >>> 0;
  const bytes = Uint8Array.from(atob(text), sign => {
    state ^= state << 13; state ^= state >>> 17; state ^= state << 5; state >>>= 0;
    return sign.charCodeAt(0) ^ (state & 255);
  });
  return JSON.parse(new TextDecoder().decode(bytes));
}

// --- reading what is typed: a number or a sum of numbers, then a unit; nothing is run as code

function unit(text) {
  const tidy = text.replace(/μ/g, "µ").replace(/²/g, "^2").replace(/³/g, "^3").replace(/\*\*/g, "^");
  let size = 1, powers = [0, 0, 0, 0, 0], nil = 0, count = 0;
  for (const [place, group] of tidy.split("/").entries()) {
    const factors = group.split(/[\s·*]+/).filter(part => part);
    if (place && !factors.length) return null;
    for (const factor of factors) {
      const found = /^([A-Za-zµΩ°%]+|1(?=$))\^?(-?[1-4])?$/.exec(factor);
      const one = found && (found[1] === "1" ? [1, 0, 0, 0, 0, 0, 0] : UNITS[found[1]]);
      if (!one) return null;
      const power = Number(found[2] || 1) * (place ? -1 : 1);
      size *= one[0] ** power;
      powers = powers.map((was, which) => was + power * one[which + 1]);
      nil = power === 1 ? one[6] : 0;
      count += 1;
    }
  }
  return {size, powers: powers.join(), nil: count === 1 ? nil : 0, named: count > 0};
}

function sum(text) {
  const parts = text.match(/\d+\.?\d*|\.\d+|[-+*/()]/g) || [];
  let place = 0;
  const next = (...signs) => signs.includes(parts[place]) ? parts[place++] : "";
  const one = () => {
    if (next("-")) return -one();
    if (next("(")) { const found = added(); return next(")") ? found : NaN; }
    return /\d/.test(parts[place] || "") ? Number(parts[place++]) : NaN;
  };
  const times = () => { let found = one(), sign; while ((sign = next("*", "/"))) { const other = one(); found = sign === "*" ? found * other : found / other; } return found; };
  const added = () => { let found = times(), sign; while ((sign = next("+", "-"))) { const other = times(); found = sign === "+" ? found + other : found - other; } return found; };
  const found = added();
  return place === parts.length ? found : NaN;
}

function typed(text) {
  const tidy = text.slice(0, 60).replace(/×/g, "*").replace(/÷/g, "/").replace(/−/g, "-").trim()
    .replace(/(^|[^\d.,])([1-9]\d{0,2}(?:,\d{3})+)(?![\d,])/g, (_all, before, number) => before + number.replace(/,/g, ""))
    .replace(/(^|[^\d.])(\d+) +(\d+\/\d+)/, "$1($2+$3)");
  const parts = /^([-\d.+*/() ]*[\d.)])\s*(.*)$/.exec(tidy);
  if (text.length > 60 || tidy.includes(",") || !parts) return null;
  const number = sum(parts[1]), measure = unit(parts[2]);
  return Number.isFinite(number) && measure ? {number, ...measure} : null;
}

// --- judging it, as the library does

const near = (one, other) => Math.abs(one - other) <= CLOSE * Math.max(Math.abs(one), Math.abs(other));
const cut = text => { const tidy = text.slice(0, 200).split(/\s+/).filter(part => part).join(" "); return tidy.length <= 40 ? tidy : tidy.slice(0, 40) + "…"; };
const noun = powers => NOUNS[powers] || "something else";

function number(asked, text) {
  const given = typed(text), said = cut(text);
  if (!given) return ["unclear", `“${said}” cannot be read; write a number${asked.plain ? "" : ` and its unit, such as ${asked.unit}`}.`];
  const right = asked.answer, powers = asked.scale.slice(1, 6).join();
  const close = (value, wanted) => Math.abs(value - wanted) <= (asked.within === null ? Math.max(Math.abs(wanted) * CLOSE, 1e-12) : asked.within);
  const isRight = (wanted, scale) => {
    const there = (given.number + given.nil) * given.size / scale[0] - scale[6], here = (wanted + scale[6]) * scale[0] / given.size - given.nil;
    return close(there, wanted) || asked.within === null && near(Number(here.toPrecision(2)), given.number) && Math.abs(Number(here.toPrecision(2)) - given.number) <= 1e-9 * Math.abs(given.number);
  };
  if (!asked.plain && !given.named) {
    if (close(given.number, right)) return ["unclear", `The number is right. Now give it its unit: ${said} of what?`];
    return ["unclear", `${said} has no unit; write one after the number, such as ${asked.unit}.`];
  }
  if (asked.plain && !given.named && asked.percent && close(given.number, right)) return ["right", asked.right];
  if (asked.plain && given.powers !== powers) return ["unclear", `${said} has a unit; the answer is a plain number.`];
  if (given.powers !== powers) {
    const other = asked.also.find(([scale, value]) => scale.slice(1, 6).join() === given.powers && isRight(value, scale));
    if (other) return ["right", other[2]];
    if (close(given.number, right)) return ["wrong", `The number is right, but ${said} is ${noun(given.powers)}; the answer is ${noun(powers)}. Look at the unit.`];
    return ["wrong", `${said} is ${noun(given.powers)}; the answer is ${noun(powers)}.`];
  }
  if (isRight(right, asked.scale)) return ["right", asked.right];
  const value = (given.number + given.nil) * given.size / asked.scale[0] - asked.scale[6];
  const slip = asked.slips.find(([wrong]) => close(value, wrong));
  if (slip) return ["wrong", slip[1]];
  if (close(given.number, right)) return ["wrong", `The number is right, but not with the unit in ${said}. Which unit belongs to it?`];
  if (right && value && !asked.scale[6]) {
    if (near(value, -right)) return ["wrong", `${said} has the wrong sign.`];
    const ratio = value / right, known = SLIPS.find(([factor]) => near(ratio, factor) || near(ratio, 1 / factor));
    if (known) return ["wrong", `${said} is ${known[1].replace("{way}", ratio > 1 ? "high" : "low")}.`];
    if (near(value * right, 1)) return ["wrong", `${said} is upside down: one was divided by the other the wrong way round.`];
  }
  return ["wrong", `${said} is too ${value > right ? "high" : "low"}.`];
}

function order(asked, text) {
  const count = asked.orders[0].length, close = text.slice(0, 200).replace(/\s/g, "");
  const places = (new RegExp(`^[1-9]{${count}}$`).test(close) ? [...close] : text.slice(0, 200).match(/\d{1,3}/g) || []).map(Number);
  const each = [...places].sort((one, other) => one - other).join();
  if (each !== Array.from({length: count}, (_none, place) => place + 1).join() || /[^\d\s,;.>-]/.test(text))
    return ["unclear", `Write the numbers 1 to ${count} in the order you think right, each once.`];
  const wrong = asked.orders.map(right => places.findIndex((one, place) => !right[place].includes(one)));
  if (wrong.includes(-1)) return ["right", asked.right];
  const good = Math.max(...wrong);
  return ["wrong", good === 0 ? "The first step is not right yet." : `The first ${good} ${good === 1 ? "is" : "are"} right; what comes next?`];
}

function judged(asked, text) {
  if (!text.trim()) return ["blank", "Not answered yet."];
  if (asked.kind === "pick") return asked.replies[Number(text)];
  return asked.kind === "order" ? order(asked, text) : number(asked, text);
}

for (const form of document.querySelectorAll("form[data-sealed]")) {
  const misses = new Set(), reply = form.querySelector("[role=status]");
  form.addEventListener("submit", event => {
    event.preventDefault();
    const asked = opened(form.dataset.sealed, form.dataset.salt);
    const text = String(new FormData(form).get("answer") ?? ""), [state, words] = judged(asked, text);
    if (state === "wrong") misses.add(text.trim().split(/\s+/).join(" "));
    const help = state === "wrong" ? asked.helps[Math.min(misses.size, 3) - 1] : "";
    reply.className = state;
    reply.textContent = state === "right" ? `✔ Right: ${words}${asked.why ? ` ${asked.why}` : ""}` : state === "wrong" ? `✖ Not yet. ${words}${help}` : `○ ${words}`;
    const rest = document.querySelector("details.rest");
    if (asked.gate && rest && (state === "right" || state === "wrong")) rest.open = true;
  });
}
})();
