// The board's numbers, asked for every two seconds. All words are set as text.
(() => {
  "use strict";
  const at = (id) => document.getElementById(id);
  const made = (tag, text = "", ...inside) => {
    const one = document.createElement(tag);
    one.textContent = text;
    one.append(...inside);
    return one;
  };
  const form = document.querySelector("form[action='/board/save'] input[name=_xsrf]");
  const button = (label, what, about) => {
    const box = made("form");
    box.method = "post";
    box.action = `/board/${what}`;
    for (const [name, value] of [["_xsrf", form.value], ["about", about]]) {
      const field = made("input");
      Object.assign(field, { type: "hidden", name, value });
      box.append(field);
    }
    box.append(made("button", label));
    return box;
  };
  let before = "";
  const draw = (told) => {
    at("here").textContent = `${told.here} of ${told.joined} have a page open.`;
    at("pages").replaceChildren(...told.pages.map((one) => made("li", `${one.count} on ${one.title}`)));
    at("none").textContent = "No guess yet.";
    at("none").hidden = told.votes.length > 0;
    at("votes").replaceChildren(...told.votes.map((vote) => {
      const box = made("section", "", made("h3", vote.title), made("p", `${vote.count} ${vote.count === 1 ? "guess" : "guesses"}`));
      for (const [guess, count] of vote.bars || []) {
        const bar = made("meter");
        Object.assign(bar, { min: 0, max: vote.count, value: count });
        bar.setAttribute("aria-label", `${guess}: ${count}`);
        const row = made("div", "", made("span", `${guess}: ${count}`), bar);
        row.className = "bar";
        box.append(row);
      }
      box.append(button(vote.open ? "Cover" : "Uncover", "uncover", vote.page));
      return box;
    }));
    at("hidden").textContent = "Nobody has said yes to showing a build. Each learner can, under the list of pages.";
    at("hidden").hidden = told.shown.length > 0;
    at("shown").replaceChildren(...told.shown.map((one) => {
      const words = one.kept ? (one.stops.length ? `stop: ${one.stops.join("; ")}` : "no stop") : "nothing kept yet";
      const row = made("li", `${one.name}${one.page ? `, page ${one.page}` : ""}: ${words}`);
      if (one.kept) row.append(button("Open", "open", one.number));
      return row;
    }));
  };
  const ask = async () => {
    try {
      const answer = await fetch("/board/numbers");
      const text = await answer.text();
      if (answer.ok && text !== before && !document.activeElement?.closest("#votes, #shown")) {
        before = text;
        draw(JSON.parse(text));
      }
    } catch { at("here").textContent = "The room's server is out of reach."; before = ""; }
    setTimeout(ask, 2000);
  };
  ask();
})();
