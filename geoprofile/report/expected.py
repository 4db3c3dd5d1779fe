"""What is known of the gains that advice expects, to be told where somebody acts on them."""

# 44,000 of 84,000 m3 on the choosing half of tests/calibration/solved_campaigns.py
HELD = (
    "Expected gains rank the proposals and are likely too high: on six trial sites of solved flow "
    "and transport about half of what tests were expected to settle came true."
)
