/* SPDX-License-Identifier: Apache-2.0 */
/* Is a webhook's request from the gateway? Three schemes; every compare takes the same time
 * whatever differs. */
#include <sodium.h>
#include <string.h>

#include "adapters/sms/template.h"

/* Standard Webhooks leaves the tolerance open; five minutes is common practice. */
enum { TOLERANCE_S = 5 * 60, MAC_BYTES = crypto_auth_hmacsha256_BYTES, KEY_MAX = 1024 };

typedef struct {
    HeaderLookup *header;
    void *context;
    const void *body;
    size_t length;
    int64_t now_s;
} Call;

typedef bool Judge(const Signature *signature, const Call *call, const char *secret);

static const char *header_of(const Call *call, const char *name)
{
    const char *value = name != NULL ? call->header(name, call->context) : NULL;

    return value != NULL ? value : "";
}

static void mac_of(const void *key, size_t key_length, const char *prefix, const Call *call,
                   unsigned char mac[MAC_BYTES])
{
    crypto_auth_hmacsha256_state state;

    crypto_auth_hmacsha256_init(&state, key, key_length);
    crypto_auth_hmacsha256_update(&state, (const unsigned char *)prefix, strlen(prefix));
    crypto_auth_hmacsha256_update(&state, call->body, call->length);
    crypto_auth_hmacsha256_final(&state, mac);
}

/* Is text (up to end) the MAC in that encoding? */
static bool is_mac(const char *text, size_t length, bool base64, const unsigned char mac[MAC_BYTES])
{
    unsigned char given[MAC_BYTES];
    size_t got = 0;
    const char *end = NULL;
    int rc = base64 ? sodium_base642bin(given, sizeof given, text, length, NULL, &got, &end,
                                        sodium_base64_VARIANT_ORIGINAL)
                    : sodium_hex2bin(given, sizeof given, text, length, NULL, &got, &end);

    return rc == 0 && got == MAC_BYTES && end == text + length &&
           sodium_memcmp(given, mac, MAC_BYTES) == 0;
}

/* The instant of webhook-timestamp within the tolerance. */
static bool is_fresh(const char *timestamp, int64_t now_s)
{
    size_t digits = strspn(timestamp, "0123456789");

    if (digits == 0 || digits > 12 || timestamp[digits] != '\0') return false;
    int64_t at_s = g_ascii_strtoll(timestamp, NULL, 10);
    return ABS(now_s - at_s) <= TOLERANCE_S;
}

/* Standard Webhooks: HMAC-SHA256 of "id.timestamp.body" under a base64 secret ("whsec_" before it
 * or not); the header lists signatures "v1,BASE64" with spaces between, one for each secret in use.
 */
static bool judge_standard(const Signature *signature, const Call *call, const char *secret)
{
    const char *id = header_of(call, "webhook-id");
    const char *timestamp = header_of(call, "webhook-timestamp");
    const char *encoded = g_str_has_prefix(secret, "whsec_") ? secret + strlen("whsec_") : secret;
    unsigned char key[KEY_MAX], mac[MAC_BYTES];
    size_t key_length = 0;
    bool found = false;

    (void)signature;
    if (*id == '\0' || !is_fresh(timestamp, call->now_s)) return false;
    if (sodium_base642bin(key, sizeof key, encoded, strlen(encoded), NULL, &key_length, NULL,
                          sodium_base64_VARIANT_ORIGINAL) != 0 ||
        key_length == 0)
        return false;
    g_autofree char *prefix = g_strdup_printf("%s.%s.", id, timestamp);
    mac_of(key, key_length, prefix, call, mac);
    for (const char *at = header_of(call, "webhook-signature"); *at != '\0';) {
        size_t length = strcspn(at, " ");
        if (length > 3 && strncmp(at, "v1,", 3) == 0)
            found |= is_mac(at + 3, length - 3, true, mac);
        at += length + (at[length] == ' ');
    }
    sodium_memzero(key, sizeof key);
    return found;
}

static const char *without_prefix(const Signature *signature, const char *value)
{
    const char *prefix = signature->prefix != NULL ? signature->prefix : "";

    return g_str_has_prefix(value, prefix) ? value + strlen(prefix) : "";
}

static bool judge_hmac(const Signature *signature, const Call *call, const char *secret)
{
    const char *value = without_prefix(signature, header_of(call, signature->header));
    unsigned char mac[MAC_BYTES];

    mac_of(secret, strlen(secret), "", call, mac);
    return is_mac(value, strlen(value), signature->base64, mac);
}

/* Hashes are compared, so that neither length nor content shows in the time taken. */
static bool judge_token(const Signature *signature, const Call *call, const char *secret)
{
    const char *value = without_prefix(signature, header_of(call, signature->header));
    unsigned char given[crypto_generichash_BYTES], wanted[crypto_generichash_BYTES];

    crypto_generichash(given, sizeof given, (const unsigned char *)value, strlen(value), NULL, 0);
    crypto_generichash(wanted, sizeof wanted, (const unsigned char *)secret, strlen(secret), NULL,
                       0);
    return sodium_memcmp(given, wanted, sizeof given) == 0;
}

bool webhook_signed(const Signature *signature, HeaderLookup *header, void *header_context,
                    const void *body, size_t length, int64_t now_s, SecretLookup *secret,
                    void *context)
{
    static Judge *const JUDGES[] = {[SIGNATURE_STANDARD] = judge_standard,
                                    [SIGNATURE_HMAC] = judge_hmac,
                                    [SIGNATURE_TOKEN] = judge_token};
    static const Filling NONE[] = {{NULL, NULL}};
    const Scope scope = {.fillings = NONE, .secret = secret, .context = context};
    const Call call = {.header = header,
                       .context = header_context,
                       .body = body,
                       .length = length,
                       .now_s = now_s};
    bool found = false;

    if (signature->scheme == SIGNATURE_NONE) return true;
    if (sodium_init() < 0) return false;
    for (guint i = 0; signature->secrets != NULL && i < signature->secrets->len; i++) {
        g_autofree char *why = NULL;
        g_autofree char *value =
            template_fill(g_ptr_array_index(signature->secrets, i), &scope, &why);
        /* An empty secret is one that anybody knows. */
        if (value != NULL && *value != '\0')
            found |= JUDGES[signature->scheme](signature, &call, value);
        if (value != NULL) sodium_memzero(value, strlen(value));
    }
    return found;
}
