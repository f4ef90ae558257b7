// The texts of the dialog that asks for the PIN: to translate it, translate this file.

export const texts = {
  name: "PIN",
  label: "PIN",
  help: "It is asked once; this device keeps it.",
  give: "Go on",
  leave: "Do not",
  none: "Nothing was done: it needs the PIN.",
};
