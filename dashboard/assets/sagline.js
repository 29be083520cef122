/* What the pages need of a script: paper, keys, notes, dropped files, and plots that take the page's colours. */
(function () {
  "use strict";
  const root = document.documentElement;
  const store = { get: (k) => { try { return localStorage.getItem(k); } catch { return null; } }, set: (k, v) => { try { localStorage.setItem(k, v); } catch { /* private window */ } } };

  /* ---- paper ---- */
  function paper() { return store.get("sagline-paper") || "auto"; }
  function applyPaper() {
    if (paper() === "auto") delete root.dataset.theme; else root.dataset.theme = paper();
    document.querySelectorAll('input[name="paper"]').forEach((i) => { i.checked = i.value === paper(); });
    document.querySelectorAll(".js-plotly-plot").forEach(paint);
  }
  if (paper() !== "auto") root.dataset.theme = paper();
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", applyPaper);
  document.addEventListener("change", (e) => {
    if (e.target.name === "paper") { store.set("sagline-paper", e.target.value); applyPaper(); }
    if (e.target.id === "single-keys") store.set("sagline-keys", e.target.checked ? "on" : "off");
    if (e.target.id === "log-files" || e.target.id === "log-folder") send([...e.target.files]);
    if (e.target.matches('form.about-columns select[name^="quantity."]')) named(e.target);
    if (e.target.closest("form.about-columns") && !e.target.name.startsWith("remember")) {
      const other = e.target.closest("fieldset") && e.target.matches(".naming select") && e.target.closest("fieldset").querySelector('input[value="other"]');
      if (other) other.checked = true;
      effect(e.target.closest("form"));
    }
    if (e.target.matches(".sheetform select")) {
      /* what a chosen chemistry brings stands in the fields that are left open */
      const hints = JSON.parse(e.target.selectedOptions[0].dataset.hints || "{}");
      for (const [name, text] of Object.entries(hints)) e.target.form.elements[name].placeholder = text;
    }
    if (e.target.matches("select[data-address]")) {
      /* what is chosen lives in the address: reload, back, bookmarks and other tabs keep it */
      const to = new URL(location.href), name = e.target.dataset.address;
      if (name === "aircraft") to.search = "";
      if (e.target.value) to.searchParams.set(name, e.target.value); else to.searchParams.delete(name);
      location.assign(to.href);
    }
    if (e.target.matches("select[data-store]")) put(e.target.dataset.store, { value: e.target.value });
  });

  /* ---- native controls hand what they hold to a store ---- */
  function put(id, data) { window.dash_clientside.set_props(id, { data: { ...data, at: Date.now() } }); }
  document.addEventListener("submit", (e) => {
    e.preventDefault();
    const form = e.target.closest("form[data-store]");
    if (form && form.matches(".sheetform")) typed.put(form, null);
    const asked = e.target.closest("form[data-address]");
    if (asked) { location.assign(asked.dataset.address + "?" + new URLSearchParams(new FormData(asked))); return; }
    if (form && form.matches(".about-columns") && !answered(form)) { form.querySelector("output.effect").textContent = form.dataset.none; return; }
    if (form) put(form.dataset.store, { ...form.dataset, value: e.submitter ? e.submitter.value : "", values: form.matches(".about-columns") ? fieldsOf(form) : Object.fromEntries(new FormData(form)) });
  });

  /* ---- answers about columns: the forms of one log count together; what they would do is told before they are given ---- */
  function fieldsOf(form) {
    const same = (f) => f.dataset.job === form.dataset.job && f.dataset.file === form.dataset.file;
    const forms = [...document.querySelectorAll("form.about-columns")].filter((f) => f !== form && same(f));
    const ticks = new FormData(form), all = {};
    for (const f of [...forms, form]) for (const [name, value] of new FormData(f)) all[name] = value;
    for (const name of ["remember", "remember_sides"]) { delete all[name]; if (ticks.has(name)) all[name] = "yes"; }
    return all;
  }
  function answered(form) {
    const fields = fieldsOf(form);
    return Object.entries(fields).some(([name, value]) => value && (name === "sides" || name.startsWith("choice.") || (name.startsWith("quantity.") && !(name.replace("quantity", "choice") in fields))));
  }
  function named(select) {
    const place = select.closest(".naming"), known = JSON.parse(document.getElementById("catalogue").dataset.catalogue)[select.value];
    for (const [sort, options] of [["place", known ? known.places : []], ["unit", known ? known.units : []]]) {
      const other = place.querySelector(`select[name^="${sort}."]`);
      other.replaceChildren(...options.map(([value, text]) => new Option(text, value)));
      other.closest("label").hidden = options.length < 2;
    }
  }
  let asking = null;
  function effect(form) {
    if (asking) asking.abort();
    asking = new AbortController();
    const out = form.querySelector("output.effect"), columns = form.querySelectorAll("[data-effect]");
    const lines = (texts) => out.replaceChildren(...texts.map((text) => Object.assign(document.createElement("p"), { textContent: text })));
    lines([form.dataset.working]);
    fetch("/effects", { method: "POST", headers: { "Content-Type": "application/json" }, signal: asking.signal,
      body: JSON.stringify({ job: form.dataset.job, file: form.dataset.file, fields: fieldsOf(form) }) })
      .then((answer) => answer.json()).then((told) => {
        columns.forEach((p) => { p.textContent = told.columns[p.dataset.effect] || ""; });
        lines(told.error ? [told.error] : told.log);
      }, (why) => { if (why.name !== "AbortError") lines([]); });
  }
  document.addEventListener("click", (e) => {
    const button = e.target.closest && e.target.closest("button[data-store]");
    if (button) put(button.dataset.store, { ...button.dataset, value: button.value });
  });

  /* ---- the sheet's form: what is typed outlives leaving the page, and is said until it is worked out ---- */
  const typed = { key: (f) => "sagline-typed-" + f.dataset.sheet, get: (f) => { try { return JSON.parse(sessionStorage.getItem(typed.key(f)) || "null"); } catch { return null; } }, put: (f, v) => { try { if (v) sessionStorage.setItem(typed.key(f), JSON.stringify(v)); else sessionStorage.removeItem(typed.key(f)); } catch { /* private window */ } } };
  function toldTyped(form) { const p = form.querySelector(".unsaved"); if (p) p.textContent = p.dataset.typed; }
  document.addEventListener("input", (e) => {
    const form = e.target.closest && e.target.closest("form.sheetform");
    if (form) { typed.put(form, Object.fromEntries(new FormData(form))); toldTyped(form); }
  });
  function settleForm() {
    const form = document.querySelector("form.sheetform"), errors = document.getElementById("form-errors");
    if (form && !form.settled) {
      form.settled = true;
      const kept = errors ? null : typed.get(form);
      if (kept) {
        for (const [name, value] of Object.entries(kept)) if (form.elements[name]) form.elements[name].value = value;
        form.querySelectorAll("details").forEach((d) => { if ([...d.querySelectorAll("input, select")].some((i) => i.value)) d.open = true; });
        toldTyped(form);
      }
    }
    if (errors && !errors.settled) { errors.settled = true; errors.focus(); }
  }
  document.addEventListener("click", (e) => {
    const to = e.target.closest && e.target.closest('#form-errors a[href^="#f-"]'), field = to && document.getElementById(to.getAttribute("href").slice(1));
    if (field) { e.preventDefault(); const d = field.closest("details"); if (d) d.open = true; field.focus(); }
  });

  /* ---- a server that was stopped is said, and the page goes on when it is back ---- */
  let gone = false;
  async function alive() {
    const words = document.getElementById("server-gone");
    if (!words || document.hidden) return;
    const here = await fetch("/alive", { cache: "no-store" }).then((r) => r.ok, () => false);
    if (here === !gone) return;
    gone = !here;
    words.classList.toggle("back", here);
    words.textContent = here ? words.dataset.back : words.dataset.gone;
    if (here) setTimeout(() => { if (!gone) words.textContent = ""; }, 5000);
  }
  setInterval(alive, 4000);

  /* ---- plots: colours come from the style sheet ---- */
  const colour = (name) => getComputedStyle(root).getPropertyValue(name).trim();
  function paint(plot) {
    if (!plot.data || !plot.layout || plot.painting) return;
    const mode = matchMedia("(max-width: 45rem)").matches ? false : "zoom";
    watch(plot);
    /* Dash plots its own figure again on a resize: look at the plot itself, not at what was done to it before. */
    if ((plot.layout.xaxis || {}).linecolor === colour("--control") && plot.layout.dragmode === mode) { plot.classList.add("painted"); return; }
    plot.painting = true;
    const data = plot.data.map((t) => {
      const m = t.meta || {}, painted = { ...t };
      if (m.line) painted.line = { ...t.line, color: colour(m.line) };
      if (m.fill) painted.fillcolor = colour(m.fill);
      if (m.hatch) painted.fillpattern = { ...t.fillpattern, fgcolor: colour(m.hatch) };
      if (m.marker) painted.marker = { ...t.marker, color: colour(m.marker), line: { ...(t.marker.line || {}), color: colour(m.marker) } };
      return painted;
    });
    const l = structuredClone(plot.layout);
    (l.shapes || []).forEach((s) => { if (s.name) s.line.color = colour(s.name); });
    (l.annotations || []).forEach((a) => { if (a.name) a.font.color = colour(a.name); });
    for (const axis of [l.xaxis, l.yaxis]) {
      if (!axis) continue;
      axis.linecolor = axis.tickcolor = colour("--control");
      axis.tickfont.color = colour("--ink-2");
      if (axis.spikecolor) axis.spikecolor = colour("--ink-3");
    }
    l.dragmode = mode;
    window.Plotly.react(plot, data, l).then(() => { plot.painting = false; plot.classList.add("painted"); }, () => { plot.painting = false; });
  }
  function watch(plot) {
    if (plot.watched || !plot.on) return;
    plot.watched = true;
    plot.on("plotly_hover", (e) => read(plot, e.points));
    plot.on("plotly_afterplot", () => paint(plot));
  }
  const minSec = (s) => { const w = Math.round(s); return Math.floor(w / 60) + ":" + String(w % 60).padStart(2, "0"); };
  function read(plot, points) {
    const out = document.getElementById("readout");
    const seen = points.filter((p) => p.data.meta && p.data.meta.name);
    if (!out || !seen.length) return;
    const futures = ((plot.layout.meta || {}).key || "").startsWith("futures");
    const when = futures ? seen[0].x.toFixed(1) + " min" : minSec(seen[0].x);
    const note = plot.closest(".moving").querySelector(".readout") || out;
    note.textContent = when + " · " + seen.map((p) => p.data.meta.name + " " + Math.abs(p.y).toPrecision(3).replace(/\.?0+$/, (z) => (z.startsWith(".") ? "" : z))).join(" · ");
    plot.cursor = { curve: seen[0].curveNumber, point: seen[0].pointNumber };
  }

  /* ---- one observer for what Dash puts on the page ---- */
  let pending = false;
  function settle() {
    pending = false;
    settleForm();
    document.querySelectorAll('input[name="paper"]').forEach((i) => { i.checked = i.value === paper(); });
    const keys = document.getElementById("single-keys");
    if (keys) keys.checked = store.get("sagline-keys") !== "off";
    document.querySelectorAll(".js-plotly-plot").forEach(paint);
    document.querySelectorAll("#nav a").forEach((a) => { if (a.classList.contains("here")) a.setAttribute("aria-current", "page"); else a.removeAttribute("aria-current"); });
    document.querySelectorAll(".moving").forEach((m) => { if (!m.querySelector(".readout")) { const o = document.createElement("output"); o.className = "fine readout noprint"; m.append(o); } });
  }
  new MutationObserver(() => { if (!pending) { pending = true; requestAnimationFrame(settle); } }).observe(document, { childList: true, subtree: true });

  /* ---- notes ---- */
  function openNote(id) {
    const note = id && document.getElementById(id);
    const details = note && note.closest("details");
    if (details) details.open = true;
    return note;
  }
  document.addEventListener("click", (e) => {
    const asked = e.target.closest && e.target.closest('a.n[href^="#"]');
    if (asked) openNote(asked.getAttribute("href").slice(1));
    if (e.target.id === "print") window.print();
  });
  addEventListener("hashchange", () => openNote(location.hash.slice(1)));

  /* ---- keys ---- */
  const typing = (t) => t.closest && t.closest("input, select, textarea, [contenteditable]");
  function step(by) {
    const places = [...document.querySelectorAll("main section[id]")];
    if (!places.length) return;
    const at = places.findIndex((p) => p.getBoundingClientRect().top > 40);
    const now = at === -1 ? places.length : at;
    const here = places[now] && Math.abs(places[now].getBoundingClientRect().top) < 60 ? now : now - 1;
    const to = places[Math.max(0, Math.min(places.length - 1, by > 0 ? (here < now ? now : now + 1) : here - (places[here] && Math.abs(places[here].getBoundingClientRect().top) < 60 ? 1 : 0)))];
    to.scrollIntoView();
    to.tabIndex = -1;
    to.focus({ preventScroll: true });
  }
  function go(address) { const a = document.createElement("a"); if (address) { a.href = address; location.assign(a.href); } }
  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    const plot = e.target.closest && e.target.closest(".moving");
    if (plot && inPlot(plot.querySelector(".js-plotly-plot"), e.key)) { e.preventDefault(); return; }
    if (typing(e.target) || store.get("sagline-keys") === "off") return;
    const main = document.getElementById("main");
    const acts = {
      j: () => step(1), k: () => step(-1),
      "[": () => main && go(main.dataset.earlier), "]": () => main && go(main.dataset.later),
      "/": () => { const f = document.getElementById("find"); if (f) f.focus(); else go("/"); },
      h: () => { const a = document.activeElement; if (a && a.matches("a.n")) { const n = openNote(a.getAttribute("href").slice(1)); if (n) n.scrollIntoView({ block: "nearest" }); } },
      p: () => window.print(),
      "?": () => { const k = document.getElementById("keys"); if (k) { k.open = true; k.scrollIntoView(); k.querySelector("summary").focus(); } },
    };
    for (const n of ["1", "2", "3", "4", "5"]) acts[n] = () => { const a = document.querySelectorAll(".answer .q")[n - 1]; if (a) a.click(); };
    if (acts[e.key]) { acts[e.key](); e.preventDefault(); }
  });

  function inPlot(plot, key) {
    if (!plot || !plot.layout) return false;
    const axis = plot.layout.xaxis, [a, b] = axis.range.map(Number), middle = (a + b) / 2, half = (b - a) / 2;
    const main = plot.data.findIndex((t) => t.meta && t.meta.name);
    const set = (from, to) => window.Plotly.relayout(plot, { "xaxis.range": [from, to] });
    if (key === "+" || key === "=") set(middle - half / 2, middle + half / 2);
    else if (key === "-" || key === "−") set(middle - half * 2, middle + half * 2);
    else if (key === "0") window.Plotly.relayout(plot, { "xaxis.autorange": true });
    else if ((key === "ArrowLeft" || key === "ArrowRight") && main !== -1) {
      const x = plot.data[main].x, at = plot.cursor && plot.cursor.curve === main ? plot.cursor.point : Math.floor(x.length / 2);
      const to = Math.max(0, Math.min(x.length - 1, at + (key === "ArrowRight" ? 1 : -1) * Math.max(1, Math.round(x.length / 200))));
      window.Plotly.Fx.hover(plot, [{ curveNumber: main, pointNumber: to }]);
      plot.cursor = { curve: main, point: to };
    } else return false;
    return true;
  }

  /* ---- dropped files: one request a file, so that each shows how far it is; those of one flight go together ---- */
  const box = () => document.getElementById("log-drop");
  function line(list, name) {
    const item = document.createElement("li"), bar = document.createElement("progress"), words = document.createElement("span");
    const title = Object.assign(document.createElement("span"), { className: "fn", textContent: name });
    words.className = "status";
    bar.max = 1; bar.value = 0;
    bar.setAttribute("aria-label", name);
    item.append(title, words, bar);
    list.append(item);
    return (text, share) => { words.textContent = text; if (share === null) bar.removeAttribute("value"); else bar.value = share; };
  }
  const ending = (name) => (/\.([^.]+)$/.exec(name) || ["", ""])[1].toLowerCase();
  const ofTheSystem = (name) => /^(\..*|thumbs\.db|desktop\.ini)$/i.test(name);
  async function send(files) {
    const place = box(), out = document.getElementById("sending");
    const most = Number(place.dataset.most), logs = files.filter((f) => !ofTheSystem(f.name));
    if (!logs.length) return;
    const taken = logs.slice(0, most), skipped = logs.length - taken.length;
    const others = new Set(place.dataset.endings.split(" "));
    const unsent = taken.filter((f) => others.has(ending(f.name)));
    const sheetsFirst = taken.filter((f) => !unsent.includes(f)).sort((a, b) => (ending(b.name) === "toml") - (ending(a.name) === "toml"));
    const together = document.getElementById("together");
    const one = together && together.checked;
    const requests = one ? [sheetsFirst] : sheetsFirst.map((f) => [f]);
    const batch = { name: String(Date.now()), count: taken.length, failed: place.dataset.failed };
    const list = out.querySelector("ul"), words = out.querySelector("p");
    out.hidden = false; out.classList.remove("error"); list.replaceChildren();
    words.textContent = skipped ? place.dataset.tooMany.replace("{most}", most).replace("{count}", skipped) : "";
    if (unsent.length) await post([], unsent.map((f) => f.name), batch, false, () => {});
    for (const group of requests) {
      if (!group.length) continue;
      const tell = group.map((f) => line(list, f.name));
      const share = (s) => tell.forEach((t) => t(place.dataset.sending, s));
      share(0);
      const refused = await post(group, [], batch, one, share);
      tell.forEach((t) => t(refused || place.dataset.sent, 1));
      if (refused) out.classList.add("error");
    }
    for (const id of ["log-files", "log-folder"]) { const input = document.getElementById(id); if (input) input.value = ""; }
    if (!out.classList.contains("error") && !skipped) out.hidden = true;
  }
  /* Resolves with "" where the files were taken, else with the sentence why not. */
  function post(files, others, batch, together, share) {
    const form = new FormData();
    for (const f of files) { form.append("logs", f, f.name); form.append("written", String(f.lastModified)); }
    for (const name of others) form.append("other", name);
    form.append("together", together ? "yes" : "no");
    form.append("batch", batch.name);
    form.append("count", String(batch.count));
    return new Promise((done) => {
      const request = new XMLHttpRequest();
      request.open("POST", "/logs");
      request.responseType = "text";
      request.upload.onprogress = (e) => share(e.lengthComputable ? e.loaded / e.total : null);
      request.onerror = () => done(batch.failed);
      request.onload = () => {
        if (request.status !== 200) { done(request.responseText.replace(/^\d+ [^:]*: /, "").trim() || batch.failed); return; }
        window.dash_clientside.set_props("dropped", { data: { jobs: JSON.parse(request.responseText).jobs, at: Date.now() } });
        done("");
      };
      request.send(form);
    });
  }
  /* A folder that the system does not let the browser read. */
  function lost(place) {
    const out = document.getElementById("sending");
    out.hidden = false;
    out.classList.add("error");
    out.querySelector("p").textContent = place.dataset.failed;
  }
  /* Every file of what was dropped, those in folders too. */
  async function filesIn(entries) {
    const found = [];
    for (const entry of entries) {
      if (entry.isFile) found.push(await new Promise((done, failed) => entry.file(done, failed)));
      else {
        const reader = entry.createReader();
        for (;;) {
          const some = await new Promise((done, failed) => reader.readEntries(done, failed));
          if (!some.length) break;
          found.push(...await filesIn(some));
        }
      }
    }
    return found;
  }
  const over = (e) => e.dataTransfer && [...e.dataTransfer.types].includes("Files");
  addEventListener("dragover", (e) => { if (over(e)) { e.preventDefault(); const d = box(); if (d) d.classList.add("over"); } });
  addEventListener("dragleave", (e) => { if (!e.relatedTarget) { const d = box(); if (d) d.classList.remove("over"); } });
  addEventListener("drop", (e) => {
    if (!over(e)) return;
    e.preventDefault();
    const d = box();
    if (!d) return;
    d.classList.remove("over");
    const entries = [...e.dataTransfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
    if (entries.some((entry) => entry.isDirectory)) filesIn(entries).then(send, () => lost(d)); else send([...e.dataTransfer.files]);
  });

  /* ---- what Dash calls ---- */
  const seconds = (text) => { const m = /^\s*(?:(\d+):)?(\d+(?:\.\d+)?)\s*$/.exec(text || ""); return m ? 60 * Number(m[1] || 0) + Number(m[2]) : NaN; };
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    sagline_page: {
      window: function (relayouts, from, to, whole, now, span) {
        const no = window.dash_clientside.no_update, by = window.dash_clientside.callback_context.triggered;
        if (!by.length || !span) return [no, no, no];
        const shown = (w) => [w, minSec(w ? w[0] : span[0]), minSec(w ? w[1] : span[1])];
        const bounded = (a, b) => { const x = Math.max(span[0], Math.min(a, b)), y = Math.min(span[1], Math.max(a, b)); return y - x < 0.5 ? null : x <= span[0] + 0.01 && y >= span[1] - 0.01 ? null : [x, y]; };
        const source = by[0].prop_id;
        if (source.startsWith("window-whole")) return shown(null);
        if (source.startsWith("window-")) {
          const a = seconds(from), b = seconds(to);
          return Number.isFinite(a) && Number.isFinite(b) && a !== b ? shown(bounded(a, b)) : shown(now);
        }
        const change = by[0].value || {};
        if (change["xaxis.autorange"]) return now ? shown(null) : [no, no, no];
        const range = change["xaxis.range"] || (change["xaxis.range[0]"] !== undefined ? [change["xaxis.range[0]"], change["xaxis.range[1]"]] : null);
        if (!range) return [no, no, no];
        const next = bounded(Number(range[0]), Number(range[1]));
        if (now && next && Math.abs(now[0] - next[0]) < 0.01 && Math.abs(now[1] - next[1]) < 0.01) return [no, no, no];
        return shown(next);
      },
      /* Another logbook is open: every page is loaded anew. */
      onto: function (address) {
        if (address) location.assign(address);
        return window.dash_clientside.no_update;
      },
      narrow: function () {
        const query = matchMedia("(max-width: 45rem)");
        if (!window.saglineWidth) { window.saglineWidth = true; query.addEventListener("change", () => window.dash_clientside.set_props("narrow", { data: query.matches })); }
        return query.matches;
      },
    },
  });
})();
