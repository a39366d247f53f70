export function openForms() {}
