// A hand's help, no more: every page works without this file. It makes steppers, shows milk in other units as it is
// typed, counts the ten seconds of an undo down, and stops a wet thumb from sending a form twice.
// It never fills in an observation: a copied reading is worse than none.
(() => {
  "use strict";

  // Milk: 8.6 lb a gallon, as the ledger has it. Pounds in one of each measure.
  const POUNDS = { lb: 1, kg: 1 / 0.45359237, gal: 8.6, l: 8.6 / 3.785411784, half: 4.3, quart: 2.15, pint: 1.075 };

  const number = (field) => {
    const typed = field ? field.value.trim().replace(",", ".") : "";
    return /^\d*\.?\d+$|^\d+\.$/.test(typed) ? Number(typed) : null;
  };
  const figure = (value, places) => String(Number(value.toFixed(places)));

  // Steppers. The buttons are sent hidden, since without this file they could do nothing.
  for (const button of document.querySelectorAll(".stepper [data-step]")) {
    button.hidden = false;
    button.parentElement.classList.add("live");
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest(".stepper [data-step]");
    if (!button) return;
    const field = button.parentElement.querySelector("input");
    const least = field.min === "" ? -Infinity : Number(field.min);
    const most = field.max === "" ? Infinity : Number(field.max);
    const next = (Number(field.value) || 0) + Number(button.dataset.step);
    field.value = String(Math.min(most, Math.max(least, next)));
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });

  // The other units, live. An output names its fields with `for`; each field says what it measures with data-milk, and a
  // bucket's field names its tare with data-tare.
  const tell = (output) => {
    let pounds = 0, seen = false, under = false, said = [];
    for (const id of output.htmlFor) {
      const field = document.getElementById(id);
      const value = number(field);
      if (value === null || !(field.dataset.milk in POUNDS)) continue;
      const tare = field.dataset.tare ? number(document.getElementById(field.dataset.tare)) : null;
      const net = value - (tare || 0);
      if (net < 0) under = true;
      seen = true;
      pounds += net * POUNDS[field.dataset.milk];
      said.push([net, field.dataset.milk]);
    }
    if (!seen) { output.textContent = ""; return; }
    if (under) { output.textContent = "Less than the empty bucket."; return; }
    const metric = said.every(([, unit]) => unit === "kg" || unit === "l");
    const parts = [];
    if (said.length === 1 && said[0][1] in { lb: 1, kg: 1 }) parts.push(figure(said[0][0], 2) + " " + said[0][1]);
    if (metric) {
      parts.push(figure(pounds / POUNDS.l, 2) + " L");
      output.textContent = parts.join(" = ");
      return;
    }
    parts.push(figure(pounds / POUNDS.gal, 2) + " gal");
    const jars = Math.round(pounds / POUNDS.half);
    const counted = said.every(([, unit]) => unit === "half" || unit === "quart" || unit === "pint");
    if (counted) parts.push(figure(pounds, 1) + " lb");
    output.textContent = parts.join(" = ") + (counted ? "" : " \u2248 " + jars + (jars === 1 ? " half-gallon" : " half-gallons"));
  };
  const outputs = [...document.querySelectorAll("output.other")];
  if (outputs.length) {
    document.addEventListener("input", () => outputs.forEach(tell));
    window.addEventListener("pageshow", () => outputs.forEach(tell));
  }

  // The last day on a lid follows the oldest milking ticked; they stand in the order of milking, each with its own.
  const lastDay = document.getElementById("last-day");
  document.addEventListener("change", (event) => {
    if (!lastDay || event.target.name !== "milking") return;
    const oldest = document.querySelector("input[name=milking]:checked");
    lastDay.textContent = "Last day: " + (oldest ? oldest.dataset.last : "tick the milkings first.");
  });

  // Undo: the seconds run down, then the button goes. Its room stays, so that nothing moves under the thumb.
  for (const flash of document.querySelectorAll(".flash[data-seconds]")) {
    const shown = flash.querySelector(".seconds");
    const end = Date.now() + Number(flash.dataset.seconds) * 1000;
    const clock = setInterval(() => {
      const left = Math.ceil((end - Date.now()) / 1000);
      if (shown) shown.textContent = String(Math.max(left, 0));
      if (left > 0) return;
      clearInterval(clock);
      flash.classList.add("lapsed");
    }, 250);
  }

  // A card that is shown once is printed from where it stands.
  for (const button of document.querySelectorAll("button[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }

  // One sending for one press. Let go again on going back, and after some seconds in case the signal was lost.
  const free = (form) => {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll("[data-waiting]")) {
      button.disabled = false;
      button.removeAttribute("data-waiting");
    }
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    // Only after the form has been read, or the pressed button's own answer would be left out of it.
    setTimeout(() => {
      for (const button of form.querySelectorAll("button:not([type=button]):not(:disabled)")) {
        button.disabled = true;
        button.setAttribute("data-waiting", "");
      }
    }, 0);
    setTimeout(() => free(form), 8000);
  });
  window.addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach(free));
})();
