/** The plan as a file and on paper. */
import { el } from "../dom.js";
import { refusal, unbound } from "./dialogs.js";
import { paper } from "./paper.js";

export class Files {
  constructor(editor) {
    this.editor = editor;
  }

  /** Save the draft as a file. */
  async download() {
    const { editor } = this;
    await editor.draft.save();
    const { filename, content } = await editor.session.call("export");
    this.save(content, filename);
  }

  /** Offer a document as a download. */
  save(content, filename = "workshop-plan.json") {
    const url = URL.createObjectURL(new Blob([`${JSON.stringify(content, null, 2)}\n`], { type: "application/json" }));
    const link = el("a", { href: url, download: filename });
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
  }

  /** Choose a file, and import it in place of the draft. */
  upload() {
    const input = el("input", { type: "file", accept: ".json,application/json" });
    input.addEventListener("change", async () => {
      const [file] = input.files;
      if (file) await this.take(await file.text());
    });
    input.click();
  }

  /** Import the text of a file; undo brings the drawing back. */
  async take(text) {
    const { editor } = this;
    if (!(await editor.draft.save())) return undefined;
    const answer = await editor.session.call("import", { revision: editor.draft.revision, content: text });
    if (!answer.saved) return answer.reason === "stale" ? editor.say(editor.t("plan.changed_elsewhere")) : refusal(editor, answer.problems ?? []);
    editor.draft.take(answer, true);
    editor.scene.fit();
    editor.say(editor.t("plan.imported"));
    return answer.unbound?.length ? unbound(editor, answer.unbound) : undefined;
  }

  /** Print the plan on one sheet, to scale. */
  async print() {
    const { editor } = this;
    let sized = null;
    try {
      sized = await editor.session.call("size", { document: editor.model.history.settled, keep: true });
    } catch {
      // The drawing is worth printing even without its list.
    }
    const frame = el("iframe", { title: editor.t("plan.print"), style: "position:fixed;inset:auto;width:0;height:0;border:0;visibility:hidden" });
    document.body.append(frame);
    const page = frame.contentDocument;
    paper(page, editor, sized);
    frame.contentWindow.addEventListener("afterprint", () => frame.remove());
    frame.contentWindow.print();
    // Where the end of printing isn't reported.
    setTimeout(() => frame.remove(), 60000);
  }
}
