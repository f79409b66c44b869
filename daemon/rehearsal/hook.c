/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/hook.h"

#include <sodium.h>
#include <string.h>

#include "adapters/sms/template.h"
#include "core/calendar/date.h"
#include "daemon/rehearsal/mapping.h"

enum { MAC_BYTES = crypto_auth_hmacsha256_BYTES, KEY_MAX = 1024 };

json_t *hook_item(const HookMessage *message, const char *id, const char *from, const char *text,
                  const char *at)
{
    g_autofree char *instant = instant_format(message->at_ms);
    json_t *item = json_object();

    mapping_put(&item, id, json_string(message->id));
    mapping_put(&item, from, json_string(message->from));
    mapping_put(&item, text, json_string(message->text));
    mapping_put(&item, at, json_string(instant));
    return item;
}

/* HMAC-SHA256 of head and body, as base64 or hex (g_free). */
static char *mac_text(const void *key, size_t key_length, const char *head, GBytes *body,
                      bool base64)
{
    crypto_auth_hmacsha256_state state;
    unsigned char mac[MAC_BYTES];
    char text[sodium_base64_ENCODED_LEN(MAC_BYTES, sodium_base64_VARIANT_ORIGINAL)];
    char hex[2 * MAC_BYTES + 1];
    gsize length;
    const void *bytes = g_bytes_get_data(body, &length);

    crypto_auth_hmacsha256_init(&state, key, key_length);
    crypto_auth_hmacsha256_update(&state, (const unsigned char *)head, strlen(head));
    crypto_auth_hmacsha256_update(&state, bytes, length);
    crypto_auth_hmacsha256_final(&state, mac);
    if (!base64) return g_strdup(sodium_bin2hex(hex, sizeof hex, mac, sizeof mac));
    return g_strdup(
        sodium_bin2base64(text, sizeof text, mac, sizeof mac, sodium_base64_VARIANT_ORIGINAL));
}

/* Standard Webhooks: the MAC of "id.timestamp.body" under the decoded secret. */
static bool sign_standard(WireRequest *request, const char *id, int64_t now_s, const char *secret)
{
    const char *encoded = g_str_has_prefix(secret, "whsec_") ? secret + strlen("whsec_") : secret;
    unsigned char key[KEY_MAX];
    size_t length = 0;

    if (sodium_base642bin(key, sizeof key, encoded, strlen(encoded), NULL, &length, NULL,
                          sodium_base64_VARIANT_ORIGINAL) != 0)
        return false;
    g_autofree char *head = g_strdup_printf("%s.%" G_GINT64_FORMAT ".", id, now_s);
    g_autofree char *mac = mac_text(key, length, head, request->body, true);
    g_autofree char *value = g_strconcat("v1,", mac, NULL);
    g_autofree char *stamp = g_strdup_printf("%" G_GINT64_FORMAT, now_s);
    return wire_request_header(request, "webhook-id", id) &&
           wire_request_header(request, "webhook-timestamp", stamp) &&
           wire_request_header(request, "webhook-signature", value);
}

bool hook_sign(const Signature *signature, WireRequest *request, const char *id, int64_t now_s,
               SecretLookup *secret, void *context)
{
    const Filling none[] = {{NULL, NULL}};
    const Scope scope = {.fillings = none, .secret = secret, .context = context};
    g_autofree char *why = NULL;

    if (signature->scheme == SIGNATURE_NONE) return true;
    if (signature->secrets == NULL || signature->secrets->len == 0) return false;
    g_autofree char *key = template_fill(signature->secrets->pdata[0], &scope, &why);
    if (key == NULL) return false;
    if (signature->scheme == SIGNATURE_STANDARD) return sign_standard(request, id, now_s, key);
    g_autofree char *proof = signature->scheme == SIGNATURE_TOKEN
                                 ? g_strdup(key)
                                 : mac_text(key, strlen(key), "", request->body, signature->base64);
    const char *prefix = signature->prefix != NULL ? signature->prefix : "";
    g_autofree char *value = g_strconcat(prefix, proof, NULL);
    return wire_request_header(request, signature->header, value);
}

/* Takes the document over. */
static WireRequest *request_of(const char *origin, const char *path, json_t *document)
{
    g_autofree char *url = g_strconcat(origin, path, NULL);
    WireRequest *request = wire_request_new(EXCHANGE_HTTP, url);
    char *text = json_dumps(document, JSON_COMPACT | JSON_SORT_KEYS);

    request->method = g_strdup("POST");
    request->repeatable = true;
    request->body = g_bytes_new(text, strlen(text));
    wire_request_header(request, "Content-Type", "application/json");
    free(text);
    json_decref(document);
    return request;
}

static WireRequest *signed_or_none(WireRequest *request, bool is_signed)
{
    if (is_signed) return request;
    wire_request_free(request);
    return NULL;
}

WireRequest *hook_message(const WebhookMapping *mapping, const char *origin,
                          const HookMessage *message, int64_t now_s, SecretLookup *secret,
                          void *context)
{
    json_t *body = hook_item(message, mapping->id, mapping->from, mapping->text, mapping->at);
    WireRequest *request = request_of(origin, mapping->path, body);

    return signed_or_none(
        request, hook_sign(&mapping->signature, request, message->id, now_s, secret, context));
}

WireRequest *hook_receipt(const ReceiptMapping *mapping, const char *origin, const char *gateway_id,
                          bool delivered, int64_t now_s, SecretLookup *secret, void *context)
{
    const GPtrArray *words = delivered ? mapping->delivered : mapping->failed;
    json_t *body = json_object();

    mapping_put(&body, mapping->id, json_string(gateway_id));
    mapping_put(&body, mapping->status, json_string(words->pdata[0]));
    WireRequest *request = request_of(origin, mapping->path, body);
    return signed_or_none(
        request, hook_sign(&mapping->signature, request, gateway_id, now_s, secret, context));
}
