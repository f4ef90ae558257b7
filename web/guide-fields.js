// The fields of the guide, each with what is wrong with it beside it.
//
// Rule: a field is as large as a thumb, its label stays in sight, and what is wrong is told in words at its place.

import { h } from "./draw.js";

/** The id of a field on the page, by its place in the sketch. */
export function fieldId(field) {
  return `f-${field}`;
}

/** Makes the fields of a step. `wrongs` by field, as the service told them; `changed(field)` once something was changed. */
export function fieldsOf(wrongs, changed) {
  const told = (field) => wrongs[field] && h("p", { class: "field-wrong", id: `${fieldId(field)}-wrong`, key: "wrong" }, h("b", {}, wrongs[field].message), ` ${wrongs[field].remedy}`);
  const described = (field, help) => [wrongs[field] && `${fieldId(field)}-wrong`, !wrongs[field] && help && `${fieldId(field)}-help`].filter(Boolean).join(" ") || null;
  const classes = (field, more) => `field ${more ?? ""}${wrongs[field] ? " is-wrong" : ""}`;
  const helping = (field, help) => help && !wrongs[field] && h("p", { class: "quiet", id: `${fieldId(field)}-help`, key: "help" }, help);

  function typed(of, name, { field, label, help, size, mode, fills }) {
    return h("div", { class: classes(field, size), key: `${of.key ?? ""}${name}` },
      h("label", { for: fieldId(field) }, label),
      h("input", {
        id: fieldId(field), value: of[name], maxlength: "400", autocomplete: fills ?? "off", inputmode: mode ?? null,
        "aria-invalid": wrongs[field] ? "true" : null, "aria-describedby": described(field, help),
        oninput: (event) => { of[name] = event.target.value; changed(field); },
      }),
      told(field), helping(field, help));
  }

  function chosen(of, name, { field, label, choices, size }) {
    return h("div", { class: classes(field, size), key: `${of.key ?? ""}${name}` },
      h("label", { for: fieldId(field) }, label),
      h("select", {
        id: fieldId(field), "aria-invalid": wrongs[field] ? "true" : null, "aria-describedby": described(field),
        onchange: (event) => { of[name] = event.target.value; changed(field); },
      }, choices.map(([value, text]) => h("option", { value, key: value, selected: of[name] === value }, text))),
      told(field));
  }

  /** One of a few, all in sight. */
  function picked({ field, label, choices, value, pick }) {
    return h("fieldset", { class: classes(field), key: field, id: fieldId(field), tabindex: "-1", "aria-describedby": described(field) },
      h("legend", {}, label), told(field),
      choices.map(([name, text]) => h("label", { class: "pick", key: name },
        h("input", { type: "radio", name: field, value: name, checked: value === name, onchange: () => { pick(name); changed(field); } }), text)));
  }

  /** Any of a few. */
  function ticked({ field, label, choices, values, tick }) {
    return h("fieldset", { class: classes(field, "is-ticks"), key: field, id: fieldId(field), tabindex: "-1", "aria-describedby": described(field) },
      h("legend", {}, label), told(field),
      choices.map(([name, text]) => h("label", { class: "pick", key: name },
        h("input", { type: "checkbox", checked: values.includes(name), onchange: (event) => { tick(name, event.target.checked); changed(field); } }), text)));
  }

  const general = (field) => wrongs[field] && h("p", { class: "field-wrong", id: fieldId(field), tabindex: "-1", key: field }, h("b", {}, wrongs[field].message), ` ${wrongs[field].remedy}`);

  return { typed, chosen, picked, ticked, general };
}

/** A group of fields for one thing of several, with the ways to move it up and to take it out. */
export function group({ key, name, up, out, words }, ...fields) {
  return h("li", { class: "group", key, "data-group": name },
    h("div", { class: "fields" }, fields),
    h("div", { class: "actions" },
      up && h("button", { class: "button is-small", type: "button", key: "up", "aria-label": words.earlierThis(name), onclick: up }, words.earlier),
      out && h("button", { class: "button is-small", type: "button", key: "out", "aria-label": words.removeThis(name), onclick: out }, words.remove)));
}
