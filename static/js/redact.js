// Cover a region of a picked picture, so that a name on a prescription never reaches the store. This
// writes the regions, as fractions of the picture, into a hidden field; the server burns them in.
import { draw } from "./photo.js";
import { say } from "./words.js";

const MOVE = 0.02;
const SMALLEST = 0.01;
const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

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
    const notes = [];
    for (const [index, file] of files.entries()) {
      try {
        const bitmap = await createImageBitmap(file);
        this.pages.push(new Page(this, index, draw(bitmap, Math.min(1, 1400 / Math.max(bitmap.width, bitmap.height)))));
      } catch {
        const note = document.createElement("p");
        note.className = "field-error";
        note.textContent = say("cover-pdf", { name: file.name });
        notes.push(note);
      }
    }
    this.part("pages").replaceChildren(...this.pages.map((page) => page.frame), ...notes);
    this.box.hidden = files.length === 0;
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
      ? JSON.stringify(this.regions.map(({ file, x, y, w, h }) => ({ file, x: round(x), y: round(y), w: round(w), h: round(h) })))
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
  constructor(cover, index, picture) {
    this.cover = cover;
    this.index = index;
    this.picture = picture;
    this.cursor = { x: 0.3, y: 0.3, w: 0.3, h: 0.08 };
    this.drawing = null;
    this.canvas = document.createElement("canvas");
    this.canvas.width = picture.width;
    this.canvas.height = picture.height;
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "application");
    this.canvas.setAttribute("aria-label", say("cover-frame", { n: index + 1 }));
    this.frame = document.createElement("div");
    this.frame.className = "cover-page";
    this.frame.append(this.canvas);
    this.canvas.addEventListener("pointerdown", (event) => this.begin(event));
    this.canvas.addEventListener("pointermove", (event) => this.stretch(event));
    this.canvas.addEventListener("pointerup", () => this.finish());
    this.canvas.addEventListener("pointercancel", () => this.finish());
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.canvas.addEventListener("focus", () => this.paint());
    this.canvas.addEventListener("blur", () => this.paint());
  }

  spot(event) {
    const rect = this.canvas.getBoundingClientRect();
    return { x: clamp((event.clientX - rect.left) / rect.width, 0, 1), y: clamp((event.clientY - rect.top) / rect.height, 0, 1) };
  }

  begin(event) {
    this.canvas.setPointerCapture(event.pointerId);
    this.from = this.spot(event);
    this.drawing = { file: this.index, ...this.from, w: 0, h: 0 };
  }

  stretch(event) {
    if (!this.drawing) return;
    const to = this.spot(event);
    this.drawing = {
      file: this.index,
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
      this.cover.add({ file: this.index, ...cursor });
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
    const mine = this.cover.regions.filter((region) => region.file === this.index);
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
