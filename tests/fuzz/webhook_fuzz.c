/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as what is posted to a webhook, signed and not. The first line is the content type, the second the signature, the
 * third the time stamp. */
#include <string.h>

#include "adapters/sms/sms_gateway.h"
#include "tests/fuzz/mapped.h"
#include "tests/support/gateways.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

typedef struct {
    char *type;
    char *signature;
    char *stamp;
} Head;

static const char *header(const char *name, void *context)
{
    const Head *head = context;

    if (g_ascii_strcasecmp(name, "webhook-timestamp") == 0) return head->stamp;
    if (g_ascii_strcasecmp(name, "webhook-id") == 0) return head->type;
    return head->signature;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const Gateway *gateway = mapped_gateway();
    Head head = {.type = mapped_line(&data, &size)};

    if (head.type != NULL) head.signature = mapped_line(&data, &size);
    if (head.signature != NULL) head.stamp = mapped_line(&data, &size);
    if (head.stamp != NULL) {
        Incoming *incoming = webhook_read(gateway->webhook, head.type, data, size);
        Receipt *receipt = receipt_read(gateway->receipts, head.type, data, size);
        mapped_check(incoming);
        g_assert(receipt == NULL || g_utf8_validate(receipt->gateway_id, -1, NULL));
        /* Nobody finds a signature by chance. */
        g_assert(!webhook_signed(&gateway->webhook->signature, header, &head, data, size,
                                 1772438400, test_secret, NULL));
        g_assert(!webhook_signed(&gateway->receipts->signature, header, &head, data, size,
                                 1772438400, test_secret, NULL));
        incoming_free(incoming);
        receipt_free(receipt);
    }
    g_free(head.type);
    g_free(head.signature);
    g_free(head.stamp);
    return 0;
}
