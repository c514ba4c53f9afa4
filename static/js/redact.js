// Cover a region of a picked picture, so that a name on a prescription never reaches the store. This
// writes the regions, as fractions of their page, into a hidden field; the server burns them in. The
// pages of a PDF come from the server, which draws them from memory and keeps nothing.
import { draw } from "./photo.js";
import { say } from "./words.js";

const MOVE = 0.02;
const SMALLEST = 0.01;
const STRIPS = [["cover-top", { x: 0, y: 0, w: 1, h: 0.25 }], ["cover-bottom", { x: 0, y: 0.75, w: 1, h: 0.25 }]];
const LONGEST = 1400;
const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

/** The pages of a file as bitmaps; throws what the server says when there is nothing to show. */
async function bitmapsOf(box, file) {
  const isPdf = file.type === "application/pdf" || file.name.toLowerCase().endsWith(".pdf");
  if (!isPdf) return [await createImageBitmap(file)];
  const body = new FormData();
  body.append("file", file);
  body.append("csrfmiddlewaretoken", box.closest("form").querySelector("[name=csrfmiddlewaretoken]").value);
  const answer = await fetch(box.dataset.pagesUrl, { method: "POST", body, credentials: "same-origin" });
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.sentence);
  return Promise.all(told.pages.map((text) => {
    const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    return createImageBitmap(new Blob([bytes], { type: "image/jpeg" }));
  }));
}

function line(className, text) {
  const made = document.createElement("p");
  made.className = className;
  made.textContent = text;
  return made;
}

class Cover {
  constructor(box) {
    this.box = box;
    this.regions = [];
  }

  part(name) {
    return this.box.querySelector(`[data-cover-${name}]`);
  }

  async open(files) {
    this.regions = [];
    this.pages = [];
    const turn = (this.turn = (this.turn ?? 0) + 1);
    const [pages, notes] = [[], []];
    this.box.hidden = files.length === 0;
    for (const [index, file] of files.entries()) {
      this.part("pages").replaceChildren(line("field-hint", say("cover-reading", { name: file.name })));
      this.write();
      try {
        const bitmaps = await bitmapsOf(this.box, file);
        for (const [place, bitmap] of bitmaps.entries()) {
          const picture = draw(bitmap, Math.min(1, LONGEST / Math.max(bitmap.width, bitmap.height)));
          const name = say("cover-page", { name: file.name, n: place + 1, count: bitmaps.length });
          pages.push(new Page(this, { file: index, page: place, n: pages.length + 1, name }, picture));
        }
      } catch {
        notes.push(line("field-error", say("cover-pdf", { name: file.name })));
      }
      if (turn !== this.turn) return; // Other files were chosen meanwhile.
    }
    this.pages = pages;
    this.part("pages").replaceChildren(...this.pages.map((page) => page.frame), ...notes);
    this.write();
  }

  add(region) {
    if (region.w < SMALLEST || region.h < SMALLEST) return;
    this.regions.push(region);
    this.write();
  }

  remove(region) {
    this.regions = this.regions.filter((other) => other !== region);
    this.write();
  }

  write() {
    const round = (value) => Math.round(value * 10000) / 10000;
    this.part("value").value = this.regions.length
      ? JSON.stringify(this.regions.map(({ file, page, x, y, w, h }) => ({ file, page, x: round(x), y: round(y), w: round(w), h: round(h) })))
      : "";
    this.part("list").replaceChildren(...this.regions.map((region, index) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button button-small";
      button.textContent = say("cover-remove", { n: index + 1 });
      button.addEventListener("click", () => this.remove(region));
      return button;
    }));
    this.part("voice").textContent = this.regions.length ? say("cover-done", { n: this.regions.length }) : "";
    for (const page of this.pages) page.paint();
  }
}

class Page {
  constructor(cover, place, picture) {
    this.cover = cover;
    this.place = { file: place.file, page: place.page };
    this.picture = picture;
    this.cursor = { x: 0.3, y: 0.3, w: 0.3, h: 0.08 };
    this.drawing = null;
    this.canvas = document.createElement("canvas");
    this.canvas.width = picture.width;
    this.canvas.height = picture.height;
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "application");
    this.canvas.setAttribute("aria-label", say("cover-frame", { n: place.n }));
    this.frame = document.createElement("div");
    this.frame.className = "cover-page";
    this.frame.append(line("field-hint", place.name), this.canvas, this.strips(place.name));
    this.canvas.addEventListener("pointerdown", (event) => this.begin(event));
    this.canvas.addEventListener("pointermove", (event) => this.stretch(event));
    this.canvas.addEventListener("pointerup", () => this.finish());
    this.canvas.addEventListener("pointercancel", () => this.finish());
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.canvas.addEventListener("focus", () => this.paint());
    this.canvas.addEventListener("blur", () => this.paint());
  }

  strips(name) {
    const row = document.createElement("div");
    row.className = "cover-list";
    row.append(...STRIPS.map(([word, region]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button";
      button.textContent = say(word);
      button.setAttribute("aria-label", `${say(word)}: ${name}`);
      button.addEventListener("click", () => this.cover.add({ ...this.place, ...region }));
      return button;
    }));
    return row;
  }

  spot(event) {
    const rect = this.canvas.getBoundingClientRect();
    return { x: clamp((event.clientX - rect.left) / rect.width, 0, 1), y: clamp((event.clientY - rect.top) / rect.height, 0, 1) };
  }

  begin(event) {
    this.canvas.setPointerCapture(event.pointerId);
    this.from = this.spot(event);
    this.drawing = { ...this.place, ...this.from, w: 0, h: 0 };
  }

  stretch(event) {
    if (!this.drawing) return;
    const to = this.spot(event);
    this.drawing = {
      ...this.place,
      x: Math.min(this.from.x, to.x),
      y: Math.min(this.from.y, to.y),
      w: Math.abs(to.x - this.from.x),
      h: Math.abs(to.y - this.from.y),
    };
    this.paint();
  }

  finish() {
    const done = this.drawing;
    this.drawing = null;
    if (done) this.cover.add(done);
    this.paint();
  }

  key(event) {
    const arrows = { ArrowLeft: [-MOVE, 0], ArrowRight: [MOVE, 0], ArrowUp: [0, -MOVE], ArrowDown: [0, MOVE] };
    const { cursor } = this;
    if (event.key in arrows) {
      const [dx, dy] = arrows[event.key];
      if (event.shiftKey) {
        cursor.w = clamp(cursor.w + dx, MOVE, 1 - cursor.x);
        cursor.h = clamp(cursor.h + dy, MOVE, 1 - cursor.y);
      } else {
        cursor.x = clamp(cursor.x + dx, 0, 1 - cursor.w);
        cursor.y = clamp(cursor.y + dy, 0, 1 - cursor.h);
      }
    } else if (event.key === "Enter" || event.key === " ") {
      this.cover.add({ ...this.place, ...cursor });
    } else if (event.key === "Delete" || event.key === "Backspace") {
      const last = this.cover.regions.at(-1);
      if (last) this.cover.remove(last);
    } else return;
    event.preventDefault();
    this.paint();
  }

  paint() {
    const pen = this.canvas.getContext("2d");
    const { width, height } = this.canvas;
    pen.drawImage(this.picture, 0, 0);
    pen.fillStyle = "#000";
    const mine = this.cover.regions.filter((region) => region.file === this.place.file && region.page === this.place.page);
    for (const { x, y, w, h } of this.drawing ? [...mine, this.drawing] : mine) pen.fillRect(x * width, y * height, w * width, h * height);
    if (document.activeElement === this.canvas && this.canvas.matches(":focus-visible")) {
      const { x, y, w, h } = this.cursor;
      for (const [colour, dash] of [["#fff", []], ["#000", [10, 10]]]) {
        pen.strokeStyle = colour;
        pen.lineWidth = 4;
        pen.setLineDash(dash);
        pen.strokeRect(x * width, y * height, w * width, h * height);
      }
      pen.setLineDash([]);
    }
  }
}

const covers = new WeakMap();

document.addEventListener("photo:ready", (event) => {
  const box = document.querySelector(`[data-cover][data-for="${CSS.escape(event.target.id)}"]`);
  if (!box) return;
  if (!covers.has(box)) covers.set(box, new Cover(box));
  covers.get(box).open(event.detail.files);
});
