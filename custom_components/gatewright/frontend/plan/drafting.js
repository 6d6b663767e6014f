/** The draft in the editor: applying the server's revisions, concurrent browsers, applying and discarding. */
import { clash, confirmApply, sure } from "./dialogs.js";
import { same } from "./document.js";
import { gridOf } from "./measure.js";
import { Draft } from "./server.js";

export class Drafting {
  constructor(editor) {
    this.editor = editor;
    this.model = editor.model;
    this.status = "saved";
    this.draft = new Draft(editor.session, {
      key: editor.entryId,
      told: (status) => this._told(status),
      stored: (answer) => this._stored(answer),
      conflict: () => clash(editor),
      storage: globalThis.localStorage,
    });
  }

  /** Start with the server's draft, and with what an earlier page of this browser hadn't stored. */
  begin(got) {
    const left = got.editable ? this.draft.left() : null;
    this.take(got);
    if (!left || same(left.document, got.document)) return;
    this.model.change(left.document);
    // Against the revision that it was drawn on: if there's a newer one, the server says so.
    this.draft.revision = left.revision;
    this.draft.changed(left.document);
    this.editor.say(this.editor.t("plan.restored"));
  }

  /** Apply a revision of the server; as a `step` it can be undone. */
  take({ revision, document, problems, differs }, step = false) {
    const { model, editor } = this;
    this.draft.begin(revision, document);
    model.take(document.grid ? document : { ...document, grid: { step: gridOf(model.units) } }, { step });
    if (!step) editor.scene.fit();
    if (differs !== undefined) model.differs = differs;
    if (problems) model.set("problems", { problems });
    editor.bar.update();
  }

  /** The plan was changed here. */
  changed() {
    this.draft.changed(this.model.history.settled);
  }

  save() {
    return this.draft.save();
  }

  get revision() {
    return this.draft.revision;
  }

  /** There's another revision: take it, unless this browser has unsaved changes. */
  async heard(event) {
    // What was stored while this browser was offline is shown as the present state.
    if (!this.draft.heard(event)) return;
    const got = await this.editor.session.call("get");
    if (this.draft.dirty) return;
    Object.assign(this.model, { machines: got.machines, gates: got.gates });
    this.take(got, true);
    this.editor.say(this.editor.t("plan.changed_elsewhere"));
  }

  /** Keep this browser's drawing (`mine`), or take the other's; undo brings this one back. */
  solve(mine) {
    if (mine) return this.draft.keepMine();
    this.model.take(this.draft.takeTheirs(), { step: true });
    return true;
  }

  /** Show what applying changes, and apply when confirmed. */
  async apply() {
    const { editor } = this;
    const { t, session } = editor;
    if (!(await this.save())) return editor.say(t(`plan.status_${this.status}`));
    if (!(await confirmApply(editor, await session.call("preview")))) return undefined;
    const answer = await session.call("apply", { revision: this.revision });
    if (answer.applied) {
      this.take({ ...answer, differs: false }, true);
      return editor.say(t("plan.applied", { count: answer.changes?.length ?? 0 }));
    }
    if (answer.reason === "stale") {
      this.take(answer, true);
      return editor.say(t("plan.changed_elsewhere"));
    }
    if (answer.problems) this.model.set("problems", { problems: answer.problems });
    return editor.say(t("plan.not_applied"));
  }

  /** Redraw the plan from the present set-up; undo brings this one back. */
  async discard() {
    const { editor } = this;
    if (!(await sure(editor, "plan.discard_ask", "plan.discard_do"))) return;
    await this.save();
    const got = await editor.session.call("discard", { revision: this.revision });
    if (got.document) this.take(got, true);
  }

  stop() {
    this.draft.save();
  }

  _told(status) {
    this.status = status;
    this.editor.bar?.update();
  }

  _stored(answer) {
    if (answer.differs !== undefined) this.model.differs = answer.differs;
    if (answer.problems) this.model.set("problems", { problems: answer.problems });
    this.editor.bar.update();
  }
}
