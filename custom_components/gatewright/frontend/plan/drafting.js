/** The draft from the editor's side: taking over what the server has, two browsers at once, applying, discarding. */
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

  /** Begin with what the server has, and with what an earlier page of this browser had not stored. */
  begin(got) {
    const left = got.editable ? this.draft.left() : null;
    this.take(got);
    if (!left || same(left.document, got.document)) return;
    this.model.change(left.document);
    // Against the revision that it was drawn on: where somebody stored another since, the server says so.
    this.draft.revision = left.revision;
    this.draft.changed(left.document);
    this.editor.say(this.editor.t("plan.restored"));
  }

  /** Take over a revision of the server; as a `step` it can be undone. */
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

  /** Another revision is there: take it, unless something is drawn here that is not stored. */
  async heard(event) {
    // What was stored while this browser had no connection is told as what is there now.
    if (!this.draft.heard(event)) return;
    const got = await this.editor.session.call("get");
    if (this.draft.dirty) return;
    Object.assign(this.model, { machines: got.machines, gates: got.gates });
    this.take(got, true);
    this.editor.say(this.editor.t("plan.changed_elsewhere"));
  }

  /** Keep what is drawn here (`mine`), or take the other browser's; undo brings this one back. */
  solve(mine) {
    if (mine) return this.draft.keepMine();
    this.model.take(this.draft.takeTheirs(), { step: true });
    return true;
  }

  /** Say in words what applying changes, and apply once that is confirmed. */
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

  /** Have the server draw the plan anew from what is in use; undo brings this one back. */
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
