// Asks the browser for a passkey before a form is sent, and sends what it says along.
// <form data-passkey="get" data-asked="address"> with a hidden entry `answer` and a [data-passkey-status].
"use strict";

const toBytes = (text) =>
  Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (one) => one.charCodeAt(0));

const toText = (buffer) =>
  btoa(String.fromCharCode(...new Uint8Array(buffer)))
    .replace(/\+/g, "-")
    .replace(/\//g, "_")
    .replace(/=+$/, "");

const named = (list) => (list ?? []).map((one) => ({ ...one, id: toBytes(one.id) }));

function answerOf({ id, rawId, type, response }, more) {
  const clientDataJSON = toText(response.clientDataJSON);
  return { id, rawId: toText(rawId), type, response: { clientDataJSON, ...more } };
}

async function make(asked) {
  const publicKey = {
    ...asked,
    challenge: toBytes(asked.challenge),
    user: { ...asked.user, id: toBytes(asked.user.id) },
    excludeCredentials: named(asked.excludeCredentials),
  };
  const made = await navigator.credentials.create({ publicKey });
  return answerOf(made, {
    attestationObject: toText(made.response.attestationObject),
    transports: made.response.getTransports?.() ?? [],
  });
}

async function show(asked) {
  const publicKey = {
    ...asked,
    challenge: toBytes(asked.challenge),
    allowCredentials: named(asked.allowCredentials),
  };
  const shown = await navigator.credentials.get({ publicKey });
  const { authenticatorData, signature, userHandle } = shown.response;
  return answerOf(shown, {
    authenticatorData: toText(authenticatorData),
    signature: toText(signature),
    ...(userHandle ? { userHandle: toText(userHandle) } : {}),
  });
}

async function ask(form) {
  const token = form.querySelector("[name=csrfmiddlewaretoken]").value;
  const answer = await fetch(form.dataset.asked, {
    method: "POST",
    headers: { "X-CSRFToken": token },
    redirect: "manual",
  });
  if (answer.type === "opaqueredirect") return location.reload();
  const asked = await answer.json();
  if (asked.problem) throw new Error(asked.problem);
  return form.dataset.passkey === "create" ? make(asked) : show(asked);
}

const NOT_HERE = "Passkeys need HTTPS, or this very computer opened as localhost.";
const NOTHING = "No passkey was used. Try again, or sign in another way.";

for (const form of document.querySelectorAll("form[data-passkey]")) {
  const status = form.querySelector("[data-passkey-status]");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if ("asking" in form.dataset) return;
    if (!window.PublicKeyCredential || !navigator.credentials) {
      status.textContent = NOT_HERE;
      return;
    }
    form.dataset.asking = "";
    status.textContent = "Follow what your browser asks.";
    try {
      const answer = await ask(form);
      if (!answer) return;
      form.elements.answer.value = JSON.stringify(answer);
      form.submit();
    } catch (error) {
      status.textContent = error instanceof DOMException ? NOTHING : error.message;
      delete form.dataset.asking;
    }
  });
}
