/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/sms/incoming.h"

#include <string.h>

#include "adapters/sms/document.h"
#include "adapters/sms/sms_gateway.h"

/* NULL for the empty text as for none. */
static char *present(json_t *value)
{
    char *text = document_text(value);

    if (text != NULL && *text == '\0') g_clear_pointer(&text, g_free);
    return text;
}

static char *problem_of(const IncomingMapping *mapping, const Incoming *incoming, bool mended)
{
    if (incoming->from == NULL) return g_strdup_printf("no sender at %s", mapping->from);
    if (incoming->text == NULL) return g_strdup_printf("no text at %s", mapping->text);
    if (mended && strstr(incoming->text, "\xef\xbf\xbd") != NULL)
        return g_strdup("bytes that are no UTF-8 were replaced");
    return NULL;
}

Incoming *incoming_read(const IncomingMapping *mapping, json_t *item, bool mended)
{
    Incoming *incoming = g_new0(Incoming, 1);

    incoming->id = present(document_find(item, mapping->id));
    incoming->from = present(document_find(item, mapping->from));
    incoming->text = document_text(document_find(item, mapping->text));
    incoming->at_ms = document_instant(document_find(item, mapping->at));
    incoming->problem = problem_of(mapping, incoming, mended);
    if (incoming->problem != NULL) incoming->raw = document_raw_value(item);
    return incoming;
}

Incoming *webhook_read(const WebhookMapping *mapping, const char *content_type, const void *body,
                       size_t length)
{
    const IncomingMapping fields = {
        .id = mapping->id, .from = mapping->from, .text = mapping->text, .at = mapping->at};
    g_auto(Document) document = {0};

    document_read(&document, content_type, body, length);
    if (document.root != NULL) return incoming_read(&fields, document.root, document.mended);
    Incoming *incoming = g_new0(Incoming, 1);
    incoming->at_ms = -1;
    incoming->problem = g_strdup(document.why);
    incoming->raw = document_raw_body(body, length);
    return incoming;
}

static bool listed(GPtrArray *words, const char *word)
{
    for (guint i = 0; words != NULL && i < words->len; i++)
        if (g_ascii_strcasecmp(g_ptr_array_index(words, i), word) == 0) return true;
    return false;
}

Receipt *receipt_read_item(const ReceiptMapping *mapping, json_t *item)
{
    g_autofree char *id = present(document_find(item, mapping->id));
    g_autofree char *status = present(document_find(item, mapping->status));

    if (id == NULL || status == NULL) return NULL;
    Receipt *receipt = g_new0(Receipt, 1);
    receipt->gateway_id = g_steal_pointer(&id);
    receipt->fate = listed(mapping->delivered, status) ? FATE_DELIVERED
                    : listed(mapping->failed, status)  ? FATE_FAILED
                                                       : FATE_ACCEPTED;
    return receipt;
}

Receipt *receipt_read(const ReceiptMapping *mapping, const char *content_type, const void *body,
                      size_t length)
{
    g_auto(Document) document = {0};

    document_read(&document, content_type, body, length);
    return receipt_read_item(mapping, document.root);
}
