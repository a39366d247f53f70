export function openPhoto() {}
