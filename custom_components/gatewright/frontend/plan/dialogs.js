/** Dialogs within the card: what applying changes, and what to do if two browsers drew at once. */
import { ask } from "../ask.js";
import { el } from "../dom.js";
import { button } from "./fields.js";

/** Ask a yes-or-no question. */
export function sure(editor, key, yes) {
  const { t, card } = editor;
  return ask(card, { title: t(key), text: t(`${key}_text`), yes: t(yes), no: t("plan.cancel") });
}

/** Open a dialog; returns the meaning of its answer, undefined if it's just closed. */
function open(editor, { title, content, answers }) {
  return new Promise((resolve) => {
    const close = (value) => {
      resolve(value);
      dialog.close();
    };
    const dialog = el(
      "dialog.wide",
      { "aria-labelledby": "plan-question" },
      el("h2", { id: "plan-question" }, title),
      ...content,
      el("div.answers", {}, ...answers.map(({ text, value, main, disabled }) => button(text, () => close(value), { disabled }, main ? ".yes" : "")))
    );
    dialog.addEventListener("close", () => {
      resolve(undefined);
      dialog.remove();
    });
    editor.card.shadowRoot.append(dialog);
    dialog.showModal();
  });
}

/** Show what applying changes; returns whether to continue. */
export async function confirmApply(editor, { changes, planned, problems, possible }) {
  const { t } = editor;
  const errors = problems.filter(({ severity }) => severity === "error");
  const rows = changes.map(({ text, fields }) =>
    el("li", {}, text, fields?.length ? el("ul", {}, ...fields.map((field) => el("li", {}, field.text))) : null)
  );
  const content = [];
  if (errors.length) content.push(el("p", {}, t("plan.mend_first")), el("ul.problems", {}, ...errors.map(({ text }) => el("li", {}, text))));
  else if (rows.length) content.push(el("p", {}, t("plan.apply_text")), el("ul.preview", {}, ...rows));
  else content.push(el("p", {}, t("plan.nothing_changes")));
  if (planned.length) content.push(el("p", {}, t("plan.stays_planned", { count: planned.length })));
  const go = possible && !errors.length && rows.length > 0;
  const answers = [{ text: t(go ? "plan.cancel" : "plan.back"), value: false }];
  if (go) answers.push({ text: t("plan.apply_do"), value: true, main: true });
  return (await open(editor, { title: t("plan.apply_ask"), content, answers })) === true;
}

/** Another browser stored a plan: keep this one, or take the other. */
export async function clash(editor) {
  const { t } = editor;
  const answer = await open(editor, {
    title: t("plan.clash"),
    content: [el("p", {}, t("plan.clash_text"))],
    answers: [
      { text: t("plan.clash_export"), value: "export" },
      { text: t("plan.clash_theirs"), value: "theirs" },
      { text: t("plan.clash_mine"), value: "mine", main: true },
    ],
  });
  if (answer === "mine") return editor.draft.solve(true);
  if (answer === "theirs") return editor.draft.solve(false);
  if (answer === "export") editor.files.save(editor.model.history.settled);
  // Closing a dialog discards neither.
  return answer === undefined && !editor.node.isConnected ? undefined : clash(editor);
}

/** Say why a file was rejected. */
export function refusal(editor, problems) {
  const { t } = editor;
  const content = [el("p", {}, t("plan.import_refused")), el("ul.problems", {}, ...problems.map(({ text }) => el("li", {}, text)))];
  return open(editor, { title: t("plan.import"), content, answers: [{ text: t("plan.back"), value: true, main: true }] });
}

/** Say what of a file this system doesn't have. */
export function unbound(editor, parts) {
  const { t } = editor;
  const content = [el("p", {}, t("plan.import_unbound")), el("ul", {}, ...parts.map(({ name }) => el("li", {}, name)))];
  return open(editor, { title: t("plan.import"), content, answers: [{ text: t("plan.back"), value: true, main: true }] });
}
