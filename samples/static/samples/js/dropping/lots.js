// Find a lot by its code, or register it with a grade.
import { create, get } from "../../../labsite/js/api.js";

/** The lot as typed, whatever its capitals; null when it is not registered. */
export async function findLot(code) {
  const { data } = await get(`/api/v1/lots/?code=${encodeURIComponent(code)}`);
  return data.results[0] ?? null;
}

export async function lotById(id) {
  return (await get(`/api/v1/lots/${id}/`)).data;
}

/** Every grade in use, page by page. */
export async function gradesInUse() {
  const grades = [];
  let url = "/api/v1/grades/?in_use=true&page_size=200";
  while (url) {
    const { data } = await get(url);
    grades.push(...data.results);
    url = data.next;
  }
  return grades.sort((a, b) => a.name.localeCompare(b.name));
}

export async function registerLot(code, grade, confirmed) {
  const body = { code, grade, ...(confirmed ? { confirmed: true } : {}) };
  return (await create("/api/v1/lots/", body)).data;
}

export async function recipeOf(grade) {
  const { data } = await get(`/api/v1/grades/${grade}/`);
  const recipe = (await get(`/api/v1/recipes/${data.recipe}/`)).data;
  return { grade: data, recipe };
}
