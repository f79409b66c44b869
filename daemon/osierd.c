/* SPDX-License-Identifier: Apache-2.0 */
/* osierd: the daemon. */
int main(void)
{
    return 0;
}
