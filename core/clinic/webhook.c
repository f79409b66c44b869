/* SPDX-License-Identifier: Apache-2.0 */
/* What a gateway may post to the hooks' listener: messages that came in, and receipts. */
#include "core/clinic/address.h"
#include "core/clinic/parts.h"
#include "core/clinic/template.h"

enum { PATH_BYTES_MAX = 200, HEADER_BYTES_MAX = 100, PREFIX_BYTES_MAX = 40 };

static const char *const NO_WORDS[] = {NULL};

/* "/in/texts": visible ASCII without a query. */
static char *read_path(const Section *section)
{
    g_autofree char *path = section_line(section, "path", true, PATH_BYTES_MAX);

    if (path == NULL) return NULL;
    bool fine = path[0] == '/' && path[1] != '\0' && strpbrk(path, "?#%{}\\ ") == NULL &&
                g_str_is_ascii(path);
    if (fine) return g_steal_pointer(&path);
    section_fault(section, "path", "must be a path such as /in/texts");
    return NULL;
}

static char *read_header(const Section *section)
{
    g_autofree char *header = section_line(section, "header", true, HEADER_BYTES_MAX);

    if (header == NULL) return NULL;
    for (const char *at = header; *at != '\0'; at++)
        if (!g_ascii_isalnum(*at) && *at != '-' && *at != '_') {
            section_fault(section, "header",
                          "must be the name of an HTTP header such as X-Signature");
            return NULL;
        }
    return g_steal_pointer(&header);
}

static void read_scheme(const Section *section, Signature *signature)
{
    static const char *const ENCODINGS[] = {"hex", "base64", NULL};
    g_autofree char *list = fault_pointer(section->pointer, "secret");

    signature->secrets = section_texts(section, "secret", true);
    for (guint i = 0; i < signature->secrets->len; i++) {
        g_autofree char *place = fault_pointer_item(list, i);
        template_check(section->faults, place, signature->secrets->pdata[i], NO_WORDS);
        if (*(const char *)signature->secrets->pdata[i] == '\0')
            fault_add(section->faults, place, "", "is empty");
    }
    if (signature->secrets->len == 0 && json_is_array(json_object_get(section->object, "secret")))
        section_fault(section, "secret", "is empty; a signature needs its secret");
    if (signature->scheme == SIGNATURE_STANDARD) return;
    signature->header = read_header(section);
    const char *prefix = section_text(section, "prefix", false);
    if (prefix != NULL && *prefix != '\0') {
        g_free(signature->prefix);
        signature->prefix = section_line(section, "prefix", false, PREFIX_BYTES_MAX);
    }
    if (signature->scheme == SIGNATURE_HMAC)
        signature->base64 = section_choice(section, "encoding", ENCODINGS, 0) == 1;
}

/* signature: none, or a scheme. False where there is none to read. */
static bool read_signature(const Section *section, const Clinic *clinic, bool required,
                           Signature *signature)
{
    static const char *const STANDARD_KEYS[] = {"scheme", "secret", NULL};
    static const char *const TOKEN_KEYS[] = {"scheme", "secret", "header", "prefix", NULL};
    static const char *const HMAC_KEYS[] = {"scheme",   "secret", "header",
                                            "encoding", "prefix", NULL};
    static const char *const SCHEMES[] = {"none", "standard-webhooks", "hmac-sha256", "token",
                                          NULL};
    json_t *value = json_object_get(section->object, "signature");
    bool none = json_is_string(value) && strcmp(json_string_value(value), "none") == 0;

    signature->prefix = g_strdup("");
    if (value == NULL && !required) return false;
    if (none) {
        if (clinic->hooks_listen != NULL && listen_valid(clinic->hooks_listen) &&
            !listen_loopback(clinic->hooks_listen))
            section_fault(
                section, "signature",
                "is allowed only where hooks listen on the loopback; anyone could write replies");
        return true;
    }
    const char *written = json_string_value(json_object_get(value, "scheme"));
    const char *const *keys = g_strcmp0(written, "standard-webhooks") == 0 ? STANDARD_KEYS
                              : g_strcmp0(written, "token") == 0           ? TOKEN_KEYS
                                                                           : HMAC_KEYS;
    g_auto(Section) scheme = section_open(section, "signature", true, keys);
    if (!scheme.given || section_text(&scheme, "scheme", true) == NULL) return true;
    signature->scheme = (SignatureScheme)section_choice(&scheme, "scheme", SCHEMES, SIGNATURE_NONE);
    if (signature->scheme != SIGNATURE_NONE)
        read_scheme(&scheme, signature);
    else if (g_strcmp0(written, "none") == 0)
        section_fault(&scheme, "scheme", "write signature: none");
    return true;
}

static GPtrArray *copy_texts(GPtrArray *texts)
{
    GPtrArray *copy = g_ptr_array_new_with_free_func(g_free);

    for (guint i = 0; texts != NULL && i < texts->len; i++)
        g_ptr_array_add(copy, g_strdup(texts->pdata[i]));
    return copy;
}

/* Receipts that bring no signature of their own are signed as the gateway's messages are. */
static void inherit(Signature *signature, const Signature *from)
{
    signature->scheme = from->scheme;
    signature->secrets = copy_texts(from->secrets);
    signature->header = g_strdup(from->header);
    signature->base64 = from->base64;
    g_free(signature->prefix);
    signature->prefix = g_strdup(from->prefix);
}

static void read_webhook(const Section *gateway, const Clinic *clinic, Gateway *into)
{
    static const char *const KEYS[] = {"path", "id", "from", "text", "at", "signature", NULL};
    g_auto(Section) section = section_open(gateway, "webhook", false, KEYS);

    if (!section.given) return;
    WebhookMapping *webhook = g_new0(WebhookMapping, 1);
    into->webhook = webhook;
    webhook->path = read_path(&section);
    webhook->id = section_pointer(&section, "id", false, false);
    webhook->from = section_pointer(&section, "from", true, false);
    webhook->text = section_pointer(&section, "text", true, false);
    webhook->at = section_pointer(&section, "at", false, false);
    read_signature(&section, clinic, true, &webhook->signature);
}

/* The gateway's words, at least one. */
static void read_statuses(const Section *section, const char *key, GPtrArray **delivered,
                          GPtrArray **failed)
{
    *delivered = section_texts(section, "delivered", false);
    *failed = section_texts(section, "failed", false);
    if ((*delivered)->len + (*failed)->len == 0)
        fault_add_key(section->faults, section->pointer, key,
                      "names no status; give delivered, failed or both");
    for (guint i = 0; i < (*delivered)->len; i++)
        if (g_ptr_array_find_with_equal_func(*failed, (*delivered)->pdata[i], g_str_equal, NULL))
            section_fault(section, "failed", "%s is both delivered and failed",
                          (char *)(*delivered)->pdata[i]);
}

static void read_receipt_hook(const Section *outer, const Clinic *clinic, Gateway *into,
                              bool required)
{
    static const char *const KEYS[] = {"path",   "id",        "status", "delivered",
                                       "failed", "signature", NULL};
    g_auto(Section) section = section_open(outer, "webhook", required, KEYS);
    ReceiptMapping *receipts = into->receipts;

    if (!section.given) return;
    receipts->path = read_path(&section);
    receipts->id = section_pointer(&section, "id", true, false);
    receipts->status = section_pointer(&section, "status", true, false);
    read_statuses(&section, "webhook", &receipts->delivered, &receipts->failed);
    bool own = read_signature(&section, clinic, into->webhook == NULL, &receipts->signature);
    if (!own && into->webhook != NULL) inherit(&receipts->signature, &into->webhook->signature);
}

static void read_receipt_poll(const Section *outer, ReceiptMapping *receipts)
{
    static const char *const KEYS[] = {"url",    "headers", "every",     "items",  "id",
                                       "status", "cursor",  "delivered", "failed", NULL};
    g_auto(Section) section = section_open(outer, "poll", false, KEYS);

    if (!section.given) return;
    receipts->poll = receipts_poll_read(&section);
    read_statuses(&section, "poll", &receipts->poll_delivered, &receipts->poll_failed);
}

/* By webhook, by poll, or both. */
static void read_receipts(const Section *gateway, const Clinic *clinic, Gateway *into)
{
    static const char *const KEYS[] = {"webhook", "poll", "within", NULL};
    g_auto(Section) outer = section_open(gateway, "receipts", false, KEYS);

    if (!outer.given) return;
    into->receipts = g_new0(ReceiptMapping, 1);
    into->receipts->within_ms = section_duration(&outer, "within", DAY_MS, MINUTE_MS, 7 * DAY_MS);
    read_receipt_poll(&outer, into->receipts);
    read_receipt_hook(&outer, clinic, into, into->receipts->poll == NULL);
}

void hooks_read(const Section *gateway, const Clinic *clinic, Gateway *into)
{
    read_webhook(gateway, clinic, into);
    read_receipts(gateway, clinic, into);
    if (clinic->hooks_listen == NULL &&
        (into->webhook != NULL || (into->receipts != NULL && into->receipts->path != NULL)))
        section_fault(gateway, into->webhook != NULL ? "webhook" : "receipts",
                      "needs hooks: {listen: \"127.0.0.1:8751\"}, where it is received");
}
