/** A question with two answers. */
import { el } from "./dom.js";

export const ASK_STYLES = `
dialog {
  max-width: min(360px, 90vw); padding: 20px; border: 2px solid var(--ink); border-radius: 14px;
  color: var(--ink); background: var(--ground);
}
dialog::backdrop { background: rgb(0 0 0 / 45%); }
dialog h2 { font-size: 1.2rem; margin-bottom: 8px; }
dialog p { line-height: 1.4; }
dialog .answers { display: flex; gap: 10px; justify-content: flex-end; margin-top: 18px; }
dialog button {
  min-height: 44px; padding: 8px 18px; border-radius: 10px; cursor: pointer;
  border: 1.5px solid var(--ink); background: none;
}
dialog button.yes { background: var(--ink); color: var(--ground); font-weight: 600; }
`;

/** Ask within a card; returns whether the answer was yes. */
export function ask(card, { title, text, yes, no }) {
  return new Promise((resolve) => {
    const answer = (value) => () => {
      dialog.close();
      resolve(value);
    };
    const dialog = el(
      "dialog",
      { "aria-labelledby": "question", "aria-describedby": "reason", onclose: () => end() },
      el("h2", { id: "question" }, title),
      el("p", { id: "reason" }, text),
      el(
        "div.answers",
        {},
        el("button", { type: "button", onclick: answer(false) }, no),
        el("button.yes", { type: "button", autofocus: true, onclick: answer(true) }, yes)
      )
    );
    const end = () => {
      resolve(false);
      dialog.remove();
    };
    card.shadowRoot.append(dialog);
    dialog.showModal();
  });
}
